"""Which addresses are this machine's own. Needs no Django, so that a command can ask before the dossier is opened."""

from __future__ import annotations

import ipaddress


def is_loopback(host: str) -> bool:
    """Whether only this machine can reach `host`, an address or a name."""
    if host == "localhost":
        return True
    try:
        address = ipaddress.ip_address(host)
    except ValueError:
        return False
    mapped = address.ipv4_mapped if isinstance(address, ipaddress.IPv6Address) else None
    return (mapped or address).is_loopback
