"""What a service says when it will not or cannot: nothing has been written then."""


class Unknown(LookupError):  # noqa: N818 - named for what it says to a person
    """Something asked for by a name that nobody knows; the message lists near ones."""

    def __str__(self) -> str:
        return str(self.args[0]) if self.args else ""


class UnknownJoint(Unknown):
    """A joint id that is not in the dossier."""


class Refused(Exception):  # noqa: N818
    """An act that the rules do not allow now; the message gives the reason and the way out."""
