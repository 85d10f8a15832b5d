"""The one base of everything that goes wrong in a way the keeper can mend or wait out."""


class Fault(Exception):
    """A known fault: ``str()`` is one clear line each, without secrets. Commands exit with 2."""
