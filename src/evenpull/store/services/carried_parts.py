"""What becomes of each part of a carrier: whether the dossier has it, by the digest of its content, and how it is
written when it has not."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from evenpull.carrier import Carrier, Part
from evenpull.carrier.parts import OF_CURVES
from evenpull.equipment import Holdings, merged, read_certificates, read_equipment
from evenpull.intake import Mapping, read_mapping
from evenpull.plan import read_specification, read_tools
from evenpull.store.models import Fact
from evenpull.store.services import carried_cards, equipment, facts, kept_tools, received, register, taking
from evenpull.store.services.errors import Refused
from evenpull.store.services.fact_kinds import CARD, CARRIED_IN, CERTIFICATE, EQUIPMENT, MAPPING, SPECIFICATION, TOOLS
from evenpull.store.services.log import append
from evenpull.store.services.place import keep_raw

if TYPE_CHECKING:
    from evenpull.intake.curve_mapping import CurveMapping

TEXTS = (SPECIFICATION, MAPPING, EQUIPMENT, CERTIFICATE)  # facts whose body has the digest of a text that may travel


def _digests() -> dict[str, set[str]]:
    found: dict[str, set[str]] = {kind: set() for kind in TEXTS}
    for fact in Fact.objects.filter(kind__in=TEXTS):
        found[fact.kind].add(fact.data["digest"])
    return found


def _held() -> set[str]:
    """SHA-256 of every part of the carriers taken in before."""
    carried = Fact.objects.filter(kind=CARRIED_IN).order_by("seq")
    return {part["sha256"] for fact in carried for part in fact.data["parts"]}


@dataclass
class Judge:
    """Judges the parts of one carrier in their order: what earlier ones bring is there for the later ones."""

    held: set[str] = field(default_factory=_held)
    texts: dict[str, set[str]] = field(default_factory=_digests)
    mappings: dict[str, Mapping] = field(default_factory=dict)
    joints: dict[str, str] = field(default_factory=dict)  # fold -> id
    papers: set[str] = field(default_factory=set)
    tools: Holdings | None = None
    curve_mappings: dict[str, CurveMapping] = field(default_factory=dict)

    def is_new(self, part: Part) -> bool:
        """Whether the dossier lacks this content. Raises the error of its reader when it cannot be taken."""
        if part.kind in OF_CURVES:
            from evenpull.store.services import carried_curves  # with the compiler of curves

            return carried_curves.is_new(part, self.joints, self.curve_mappings)
        if part.kind == "joint":
            spec = read_specification(part.data.decode(), part.name)
            self.joints[facts.fold(spec.id)] = spec.id
            return part.sha256 not in self.texts[SPECIFICATION]
        if part.kind == "tools":
            read_tools(part.data.decode(), part.name)
            return not Fact.objects.filter(key=f"{TOOLS}:{part.sha256}").exists()
        if part.kind == "equipment":
            return self._new_equipment(part)
        if part.kind == "certificate":
            read_certificates(part.data.decode(), part.name)
            return part.sha256 not in self.texts[CERTIFICATE]
        if part.kind == "mapping":
            mapping = read_mapping(part.data.decode(), part.name)
            self.mappings[mapping.name] = mapping
            return part.sha256 not in self.texts[MAPPING]
        if part.kind == "card":
            self.papers.add(part.sha256)
            fact = Fact.objects.filter(key=f"{CARD}:{part.name.rpartition('.')[0]}").first()
            return part.sha256 not in self.held and (fact is None or fact.data["pdf_sha256"] != part.sha256)
        if part.kind == "card issued":
            one = carried_cards.read_issued(part)
            joints = register.described([one.joint]) | self.joints
            return not carried_cards.is_known(one, joints, self.papers)
        if part.mapping:
            return self._new_records(part)
        return part.sha256 not in self.held

    def _new_equipment(self, part: Part) -> bool:
        before = kept_tools.kept().held if self.tools is None else self.tools
        if part.sha256 in self.texts[EQUIPMENT]:
            return False
        self.tools = merged(before, read_equipment(part.data.decode(), part.name, before))
        return True

    def _new_records(self, part: Part) -> bool:
        if received.readings_of(part.sha256):
            return False  # also where a person withdrew the reading: that it counts again is for a person to say
        mapping = self.mappings.get(part.mapping) or register.mapping(part.mapping)
        found = taking.preview(part.name, part.data, mapping)
        if found.conflicts:
            raise Refused("; ".join(found.conflicts[:3]))
        return True


def write(part: Part, carrier: Carrier, who: str) -> None:
    """Write a part that is new, as whatever brings such a thing otherwise; call inside `writing()`."""
    if part.kind in OF_CURVES:
        from evenpull.store.services import carried_curves  # with the compiler of curves

        carried_curves.write(part, who)
    elif part.kind == "joint":
        register.add_joint(part.data.decode(), part.name, who)
    elif part.kind == "tools":
        register.add_tools(part.data.decode(), part.name, who)
    elif part.kind == "equipment":
        equipment.add_equipment(part.data.decode(), part.name, who)
    elif part.kind == "certificate":
        # What is doubtful in it was confirmed where it was typed: a dossier gives none away that was not written there.
        equipment.add_certificates(part.data.decode(), part.name, who, confirmed=True)
    elif part.kind == "mapping":
        register.add_mapping(part.data.decode(), part.name, who)
    elif part.kind == "card issued":
        append([carried_cards.fact_of(carried_cards.read_issued(part), carrier)], who)
    elif part.mapping:
        taking.commit_file(part.name, part.data, part.mapping, who, by_person=False)
    else:
        keep_raw(part.data)
