"""Names and addresses of this machine, as others on its network know it."""

import ipaddress
import re
import socket

__all__ = ["address_on_network", "own_addresses", "own_names"]

# An address reserved for documentation (RFC 5737): it only selects the outgoing interface.
_FAR = "192.0.2.1"

_NAME = re.compile(r"[a-z0-9]([a-z0-9.-]{0,251}[a-z0-9])?")


def address_on_network() -> str:
    """Find this machine's address on its network; nothing is sent.

    Returns
    -------
    str
        An IPv4 address; this machine's loopback address where it is on no network.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect((_FAR, 9))
            return str(probe.getsockname()[0])
        except OSError:
            return "127.0.0.1"


def own_names() -> list[str]:
    """List the names of this machine, in lower case; ``name.local`` is that of RFC 6762."""
    name = socket.gethostname().lower()
    names = {name, f"{name.partition('.')[0]}.local", "localhost"}
    return sorted(candidate for candidate in names if _NAME.fullmatch(candidate))


def own_addresses() -> list[str]:
    """List the IPv4 addresses of this machine, as far as the system knows them."""
    found = {"127.0.0.1", address_on_network()}
    try:
        found |= {
            str(entry[4][0])
            for entry in socket.getaddrinfo(socket.gethostname(), None)
            if entry[0] == socket.AF_INET
        }
    except OSError:
        pass  # its name cannot be resolved
    return sorted(found, key=ipaddress.IPv4Address)
