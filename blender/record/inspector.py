"""Verify an exported journal of a fill station.  Needs Python 3.9+ and `cryptography` alone.

A line of the file is an entry: its number, the digest before it, its own, and its body: the very
text that was hashed and signed.  Exit 0: all holds.  4: something does not.  2: not readable.
"""

from __future__ import annotations

import argparse
import base64
import hashlib
import json
import sys
from pathlib import Path
from typing import Any

from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

CANNOT = """What this cannot show: that nobody with the station's keys wrote the record anew (only
a paper somebody else kept, --anchor, or the key posted on the wall, --key, shows that); what came
after the newest such paper; that what was entered is true, complete and of that time; and who
typed a secret: a signature shows a key."""


def _sha(tag: str, *parts: bytes) -> bytes:
    return hashlib.sha256(f"fillwright {tag} 1\0".encode() + b"".join(parts)).digest()


def _spell(content: Any) -> bytes:
    return json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()


def _fits(tag: str, part: str, prev: bytes, content: dict[str, Any]) -> bool:
    """Tell whether a signature or seal fits: over the digest before and the body without values."""
    try:
        bare, made = dict(content), content[part]
        for name in {"sig", "seal"} & {*content}:
            bare[name] = {k: v for k, v in content[name].items() if k != "value"}
        key = Ed25519PublicKey.from_public_bytes(bytes.fromhex(made["key"]))
        key.verify(bytes.fromhex(made["value"]), _sha(tag, prev, _spell(bare)))
    except (InvalidSignature, KeyError, TypeError, ValueError):
        return False
    return bool(made["alg"] == "ed25519")


class Inspector:
    """Reads entry by entry; `flaws` gathers what does not hold."""

    def __init__(self) -> None:
        self.flaws: list[str] = []
        self.people: dict[str, dict[str, str]] = {}
        self.life = self.seq = self.signed = self.sealed = 0
        self.key, self.station, self.head, self.papers = "", "", b"", set[str]()

    def take(self, text: str) -> None:
        """Check one line of the file."""
        line = json.loads(text)
        seq, prev, body = line[0], bytes.fromhex(line[1]), line[3].encode()
        content, digest = json.loads(body), _sha("entry", prev, body)
        if seq == 1:
            self.station, self.key, self.life = content["station"], content["data"]["key"], 1
            under = len(self.station).to_bytes(4, "big") + self.station.encode()
            self.head = _sha("genesis", under, (1).to_bytes(8, "big"), bytes.fromhex(self.key))
        life = self.life + (content["kind"] == "station.restored")
        again = _spell([seq, prev.hex(), digest.hex(), line[3]])
        says = (content["station"], content["incarnation"], content["seq"])
        checks = (
            (seq == self.seq + 1, f"entry {self.seq + 1} is missing or out of place"),
            (prev == self.head, f"entry {seq} does not follow the one before it"),
            (again == text.encode(), f"entry {seq} was altered: its digest differs"),
            (seq > 1 or "seal" in content, "entry 1 founds a station without its seal"),
            (_spell(content) == body, f"entry {seq} is not spelled as it was written"),
            (says == (self.station, life, seq), f"entry {seq} says that it is another: {says!a}"),
        )
        self.flaws += [what for holds, what in checks if not holds]
        self._signatures(seq, prev, content)
        self.seq, self.life, self.head = seq, content["incarnation"], digest
        head = base64.b32encode(digest).decode().rstrip("=")
        self.papers.add(f"FILLWRIGHT1 {self.station} {self.life} {seq} {head}")

    def _signatures(self, seq: int, prev: bytes, content: dict[str, Any]) -> None:
        """Check seal and signature; a key counts if the station or its holder vouches for it."""
        data, sig, vouched = content["data"], content.get("sig"), False
        if "seal" in content:
            self.sealed += 1
            vouched = content["seal"]["key"] == self.key and _fits("seal", "seal", prev, content)
            self.flaws += [] if vouched else [f"the seal of entry {seq} does not fit"]
        person = content["kind"].startswith("person.") and "person" in data
        given = {n: data[n] for n in ("key", "role") if person and data.get(n)}
        if given and vouched:
            self.people.setdefault(data["person"], {}).update(given)
        if sig is not None:
            self.signed += 1
            known = self.people.get(sig["person"], {})
            own = (sig["key"], sig["role"]) == (known.get("key"), known.get("role"))
            if not (own and _fits("signature", "sig", prev, content)):
                self.flaws.append(f"the signature of entry {seq} does not fit, or is no signer's")
        elif given and not vouched:
            self.flaws.append(f"entry {seq} gives somebody a key, and nobody vouches for it")
        if given:
            self.people.setdefault(data["person"], {}).update(given)

    def held_against(self, heading: str, anchor: str | None, key: str | None) -> None:
        """Hold heading, the text of a label or report, and a key from outside against it all."""
        says = ["fillwright journal 1", self.station, self.key, self.seq, self.head.hex()]
        if heading.encode() != _spell(says):
            self.flaws.append("the heading is not that of these entries: some were changed")
        if anchor is not None and " ".join(anchor.split()) not in self.papers:
            life = anchor.split()[2]
            lost = f", or lost: a restore came after incarnation {life}, and the paper may be of it"
            why = lost if life.isdecimal() and int(life) < self.life else ""
            self.flaws += [f"no entry is the one the paper was printed of: some were changed{why}"]
        if key is not None and key.lower() != self.key:
            self.flaws.append("the station's key is not the one given")


def main() -> int:
    """Verify the file named on the command line, and say in sentences what was found."""
    parser = argparse.ArgumentParser(description="Verify an exported journal of a fill station.")
    parser.add_argument("file")
    parser.add_argument("--anchor", help="text of a label's QR code or of a report's footer")
    parser.add_argument("--key", help="the station's public key as posted on its wall")
    given, inspector = parser.parse_args(), Inspector()
    try:
        first, *lines, last = Path(given.file).read_bytes().decode().split("\n")
    except (OSError, ValueError):
        print("NOTHING IS SHOWN: the file is no exported journal, or damaged beyond reading.")
        return 2
    for number, text in enumerate([*lines, last] if last else lines, start=2):
        try:
            inspector.take(text)
        except (ValueError, LookupError, TypeError, AttributeError, RecursionError):
            inspector.flaws.append(f"line {number} of the file is damaged or no entry")
    if given.anchor and len(given.anchor.split()) != 5:
        parser.error("--anchor: a paper's text has five words, FILLWRIGHT1 first")
    inspector.held_against(first, given.anchor, given.key)
    said = [f"Station {inspector.station!a}: {inspector.seq} entries. Key {inspector.key!a}."]
    said += [f"DOES NOT HOLD: {flaw}." for flaw in inspector.flaws[:100]]
    if not inspector.flaws:
        fit = f"all {inspector.signed} signatures and {inspector.sealed} seals fit"
        said.append(f"Every entry follows the one before it, unaltered; {fit}.")
        said.append("The paper fits." if given.anchor else "No paper was held against it.")
    print(*said, CANNOT, sep="\n")
    return 4 if inspector.flaws else 0


if __name__ == "__main__":
    sys.exit(main())
