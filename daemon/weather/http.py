"""Asks a web service: with a deadline, a limit to what is read, plain troubles, no key in logs."""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping
from concurrent.futures import Future
from dataclasses import dataclass
from importlib import metadata
from threading import Thread
from typing import TypeVar
from urllib.parse import quote_plus, urlencode, urlsplit

import requests
import urllib3
from requests.adapters import HTTPAdapter

from underbench.daemon.weather.provider import BadAnswer, Unreachable

MOST_BYTES = 20_000_000  # a hundred days of ten variables are well under 1 MB
CHUNK_BYTES = 65_536
DEADLINE_PER_TIMEOUT = 4  # connecting, three tries and their pauses

_T = TypeVar("_T")


@dataclass(frozen=True, slots=True)
class Reply:
    """What came back; ``headers`` by their names in small letters."""

    status: int
    body: bytes
    headers: Mapping[str, str]


class Client:
    """Asks the service ``name`` at ``url``.

    ``contact`` tells the service whom to write to. ``key`` (parameter and value) is sent but never
    shown. ``timeout_s`` is the longest silence while connecting or reading; the whole request ends
    after `DEADLINE_PER_TIMEOUT` times as long. Redirects are followed only with ``follows``,
    because they carry the key to wherever they point. ``setting`` names the setting with the
    address.
    """

    def __init__(
        self,
        name: str,
        url: str,
        contact: str,
        timeout_s: float,
        key: tuple[str, str] | None = None,
        follows: bool = False,
        setting: str = "base_url",
        session: requests.Session | None = None,
    ) -> None:
        self._name, self._url, self._timeout_s, self._follows = name, url, timeout_s, follows
        self._setting = setting
        self._agent = user_agent(contact)
        self._key = key
        self._session = session or _session()
        host = urlsplit(url).hostname or setting
        self.who = f"the weather service at {host}"
        if host in ("127.0.0.1", "localhost", "::1"):
            self._session.trust_env = False  # no proxy reaches this machine's own loopback
        if key:
            _hide_in_logs(key[1])

    def get(self, asked: Mapping[str, str], headers: Mapping[str, str] | None = None) -> Reply:
        """Return the reply, whatever its status.

        Raises Unreachable, or BadAnswer for an endless reply; neither holds the key.
        """
        return self._within_deadline(lambda: self._get(asked, headers or {}))

    def bare_url(self, asked: Mapping[str, str]) -> str:
        """Return the address of a question without key, user name or password."""
        parts = urlsplit(f"{self._url}?{urlencode(asked)}")
        return parts._replace(netloc=parts.netloc.rpartition("@")[2]).geturl()

    def hidden(self, text: str) -> str:
        """Return ``text`` without the key."""
        return _hidden(text, self._key[1]) if self._key else text

    def trouble(self, reply: Reply) -> Unreachable | None:
        """Return the fault of a server that is down or elsewhere; None for other replies."""
        if reply.status >= 500:
            return Unreachable(f"{self.who} is down or overloaded (HTTP {reply.status})")
        if 300 <= reply.status < 400:
            there = urlsplit(reply.headers.get("location", "")).hostname or "another address"
            where = f"{self.who} sends us on to {there}"
            return Unreachable(f"{where}: set that as the weather {self._setting}")
        return None

    def _get(self, asked: Mapping[str, str], headers: Mapping[str, str]) -> Reply:
        try:
            with self._session.get(
                self._url,
                params={**asked, **dict([self._key] if self._key else [])},
                headers={"User-Agent": self._agent, **headers},
                timeout=(self._timeout_s, self._timeout_s),
                allow_redirects=self._follows,
                stream=True,
            ) as response:
                told = {name.lower(): value for name, value in response.headers.items()}
                return Reply(response.status_code, self._read(response), told)
        except (requests.RequestException, urllib3.exceptions.HTTPError, ValueError) as error:
            trouble = _trouble(error, self._setting)
        # Raised outside the handler, so that it does not carry the original error, whose text holds
        # the key.
        raise Unreachable(f"{self.who} {trouble}")

    def _read(self, response: requests.Response) -> bytes:
        body = bytearray()
        while chunk := response.raw.read1(CHUNK_BYTES, decode_content=True):
            body += chunk
            if len(body) > MOST_BYTES:
                raise BadAnswer(f"{self._name} sent more than {MOST_BYTES / 1e6:g} MB")
        return bytes(body)

    def _within_deadline(self, work: Callable[[], _T]) -> _T:
        # In a thread, because name look-ups, and servers that drip a byte at a time, outlast any
        # socket time-out. A daemon thread, so that one still hanging cannot hold up the end of the
        # program.
        future: Future[_T] = Future()

        def run() -> None:
            try:
                future.set_result(work())
            except BaseException as error:
                future.set_exception(error)

        Thread(target=run, name=self._name, daemon=True).start()
        deadline_s = DEADLINE_PER_TIMEOUT * self._timeout_s
        try:
            return future.result(timeout=deadline_s)
        except TimeoutError:
            late = f"took longer than {deadline_s:g} s"
        raise Unreachable(f"{self.who} {late}")


def user_agent(contact: str) -> bytes:
    """Return this program's name for a service, with whom to write to."""
    try:
        version = metadata.version("underbench")
    except metadata.PackageNotFoundError:
        version = "uninstalled"
    whom = " ".join(contact.split())
    return (f"Underbench/{version} (+{whom})" if whom else f"Underbench/{version}").encode()


def _session() -> requests.Session:
    # No second try after a read time-out: the service is still working on the first.
    tries = urllib3.Retry(
        total=2,
        read=False,
        backoff_factor=1,
        status_forcelist=(500, 502, 503, 504),
        allowed_methods=("GET",),
        raise_on_status=False,
        respect_retry_after_header=False,
    )
    session = requests.Session()
    for scheme in ("https://", "http://"):
        session.mount(scheme, HTTPAdapter(max_retries=tries))
    return session


def _trouble(error: Exception, setting: str) -> str:
    timeouts = (requests.Timeout, urllib3.exceptions.TimeoutError)
    if isinstance(error, timeouts):
        return "did not answer in time"
    if isinstance(error, requests.exceptions.SSLError):
        return "has a certificate this machine does not trust; is its date right?"
    if isinstance(error, requests.ConnectionError):
        return "cannot be reached; is the network up?"
    if isinstance(error, urllib3.exceptions.HTTPError):
        return "broke off in the middle of its answer"
    return f"cannot be asked or understood; is {setting} written correctly?"


def _hide_in_logs(key: str) -> None:
    # urllib3 logs addresses, and with them the key; it even logs retries as warnings.
    def hide(record: logging.LogRecord) -> bool:
        record.msg, record.args = _hidden(record.getMessage(), key), ()
        return True

    for name in ("urllib3.connectionpool", "urllib3.util.retry"):
        logging.getLogger(name).addFilter(hide)


def _hidden(text: str, key: str) -> str:
    return text.replace(key, "***").replace(quote_plus(key), "***")
