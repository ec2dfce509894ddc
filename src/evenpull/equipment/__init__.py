"""The register of equipment: what a store of tools holds, what its certificates say, and what follows for a chain.

equipment TOML --read_equipment--> items, assemblies
certificates TOML --read_certificates--> calibrations
CSV or XLSX --read_certificate_table(mapping)--> calibrations
all of it, with the simple register of tools beside it --> Holdings --> what `evenpull.instrument` takes
"""

from evenpull.equipment.certificates import read_certificates
from evenpull.equipment.holdings import Holdings, holdings
from evenpull.equipment.model import DRIVERS, ITEM_KINDS, Assembly, Calibration, Item, ItemKind, Scale
from evenpull.equipment.read import Equipment, merged, read_equipment
from evenpull.equipment.table import TableReading, read_certificate_table
from evenpull.equipment.table_mapping import CertificateMapping, read_certificate_mapping

__all__ = [
    "DRIVERS", "ITEM_KINDS", "Assembly", "Calibration", "CertificateMapping", "Equipment", "Holdings", "Item",
    "ItemKind", "Scale", "TableReading", "holdings", "merged", "read_certificate_mapping", "read_certificate_table",
    "read_certificates", "read_equipment",
]
