"""Carriers: work taken into a site without network and out again, as one signed file with nothing executable in it."""

from evenpull.carrier.parts import KINDS, CarrierError, Part, check_part
from evenpull.carrier.read import Carrier, read_carrier
from evenpull.carrier.write import carrier_bytes

__all__ = ["KINDS", "Carrier", "CarrierError", "Part", "carrier_bytes", "check_part", "read_carrier"]
