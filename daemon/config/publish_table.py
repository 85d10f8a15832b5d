"""The section of the configuration on publishing to a home server's broker."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator, Field, SecretStr

from underbench.daemon.config.limits_table import Name, Table


def _topic(value: str) -> str:
    if any(sign in value for sign in "+#\0") or value.startswith(("/", "$")) or value.endswith("/"):
        raise ValueError('expected the beginning of a topic, such as "underbench"')
    return value


Prefix = Annotated[str, Field(max_length=100), AfterValidator(_topic)]


class PublishTable(Table):
    """``[publish]``: a broker that takes what each pass found, below ``topic``.

    ``discovery`` is where the home server looks for devices ("" for none). ``password`` is a secret
    and does not belong in the file.
    """

    host: Name
    port: Annotated[int, Field(ge=1, le=65535)] = 1883
    username: Name | None = None
    password: SecretStr | None = None
    topic: Annotated[Prefix, Field(min_length=1)] = "underbench"
    discovery: Prefix = "homeassistant"
