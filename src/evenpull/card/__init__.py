"""Printed job cards for places where no device may enter, their codes, and the map of a joint."""

from evenpull.card.codes import CardIdentity, CodeError, read_page_payload, read_payload
from evenpull.card.drawing import joint_map_svg
from evenpull.card.make import CardPDF, make_card, stop_reasons
from evenpull.card.payload import CardData, PageData, PassData, read_card_data, read_page_data
from evenpull.card.places import FIELDS, BoxPlace
from evenpull.card.serial import Serial, SerialError, joint_check_character, make_serial, parse_serial
from evenpull.card.tool_choice import CardRefused
from evenpull.card.typesetting import TypesettingError

__all__ = [
    "FIELDS",
    "BoxPlace",
    "CardData",
    "CardIdentity",
    "CardPDF",
    "CardRefused",
    "CodeError",
    "PageData",
    "PassData",
    "Serial",
    "SerialError",
    "TypesettingError",
    "joint_check_character",
    "joint_map_svg",
    "make_card",
    "make_serial",
    "parse_serial",
    "read_card_data",
    "read_page_data",
    "read_page_payload",
    "read_payload",
    "stop_reasons",
]
