"""Guide values of embedding by roughness and direction of the working load."""

from __future__ import annotations

from dataclasses import dataclass

from evenpull.catalogue.tables import NotInCatalogue, table

ROUGHNESSES = ("<10", "10-<40", "40-<160")
LOADINGS = ("axial", "shear")


@dataclass(frozen=True, slots=True)
class EmbeddingRow:
    """Embedding in m: of the thread, of each bearing face of head or nut, of each inner interface."""

    Rz: str
    loading: str
    thread: float
    face: float
    inner: float
    source: str
    status: str


def embedding(Rz: str, loading: str) -> EmbeddingRow:
    """The row of a roughness Rz ("<10", "10-<40", "40-<160" micrometres) and a loading ("axial" tension or compression,
    "shear"). Raises NotInCatalogue with what there is.
    """
    data = table("embedding")
    for row in data["row"]:
        if row["Rz"] == Rz and row["loading"] == loading:
            return EmbeddingRow(
                Rz, loading, row["thread"] * 1e-6, row["face"] * 1e-6, row["inner"] * 1e-6, data["source"],
                data["status"],
            )
    if Rz not in ROUGHNESSES:
        raise NotInCatalogue("roughness Rz in micrometres", Rz, ROUGHNESSES)
    raise NotInCatalogue("direction of loading for embedding", loading, LOADINGS)
