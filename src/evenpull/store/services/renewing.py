"""A new signing key takes over from the old one: a fact that both keys sign, then the files change places."""

from __future__ import annotations

from datetime import UTC, datetime

from evenpull.evidence.sign import NEXT_KEY_FILE, make_key_file
from evenpull.evidence.succession import KIND, SuccessionError, key_chain, make_succession
from evenpull.store.services.errors import Refused
from evenpull.store.services.log import New, append, checked_author, writing
from evenpull.store.services.place import finish_renewal, home, signing_key
from evenpull.store.services.witness import last_checkpoint, successions


def renew_key(author: str) -> tuple[str, str]:
    """Make a new signing key and let it take over; (old fingerprint, new fingerprint).

    The old key file stays in the folder under its fingerprint. Refused before anything was signed, and when the key in
    the folder is not the one in force: a lost key cannot name its successor.
    """
    who = checked_author(author)
    with writing():
        last, old = last_checkpoint(), signing_key()
        if old.public.fingerprint != last.key:
            raise Refused(
                f"the signing key of this folder ({old.public.fingerprint}) is not the one in force in the log "
                f"({last.key}), and only that one can name its successor; put it back. Nothing was written."
            )
        new = make_key_file(home() / NEXT_KEY_FILE)
        try:
            handed = make_succession(last, datetime.now(UTC), old, new)
            key_chain((*successions(), handed), new.public)
        except SuccessionError as error:
            raise Refused(f"the signing key cannot be renewed: {error}. Nothing was written.") from error
        append([New(KIND, f"{KIND}:{last.size}", handed.body)], who, key=new)
    finish_renewal(home(), new.public.fingerprint)
    return old.public.fingerprint, new.public.fingerprint


