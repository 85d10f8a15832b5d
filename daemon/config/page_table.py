"""``[page]``: where the page listens, and the names that reach it."""

from __future__ import annotations

from ipaddress import ip_address
from typing import Annotated
from urllib.parse import urlsplit

from pydantic import AfterValidator

from underbench.daemon.config.limits_table import Table


def _listen(value: str) -> str:
    split = urlsplit(f"//{value}")
    try:
        port = split.port
        if split.hostname != "localhost":
            ip_address(split.hostname or "")
    except ValueError:
        port = None
    if not port or split.path or split.username:
        raise ValueError("expected an address and a port such as '127.0.0.1:8640'")
    return value


def _address(value: str) -> str:
    split = urlsplit(value)
    if split.scheme not in ("http", "https") or not split.hostname or split.path.strip("/"):
        raise ValueError("expected an address such as 'https://garden.example'")
    return value.rstrip("/")


def _host(value: str) -> str:
    if not value or urlsplit(f"//{value}").hostname != value.lower():
        raise ValueError("expected a name such as 'garden.example', without a port")
    return value.lower()


def _proxy(value: str) -> str:
    try:
        return str(ip_address(value))
    except ValueError:
        raise ValueError("expected the proxy's address in numbers, such as '127.0.0.1'") from None


class PageTable(Table):
    """``[page]``: without ``listen`` the daemon serves no page.

    ``address`` is where phones find it. ``hosts`` are more names that reach it. ``proxy`` is the
    one machine whose word is taken on TLS and on who asks.
    """

    listen: Annotated[str, AfterValidator(_listen)] | None = None
    address: Annotated[str, AfterValidator(_address)] | None = None
    hosts: tuple[Annotated[str, AfterValidator(_host)], ...] = ()
    proxy: Annotated[str, AfterValidator(_proxy)] | None = None

    @property
    def names(self) -> tuple[str, ...]:
        """The names that reach the page, besides this machine's own."""
        own = urlsplit(self.address).hostname if self.address else None
        return (*self.hosts, *((own,) if own else ()))
