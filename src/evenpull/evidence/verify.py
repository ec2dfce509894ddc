"""Check a bundle: python -m evenpull.evidence.verify BUNDLE [--key FINGERPRINT]. No database, no network, no Django.

Exit code 0: nothing was changed; 1: something was, and it is named; 2: the bundle could not be read.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

from evenpull.evidence.bundle import verify


def main(arguments: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(
        prog="python -m evenpull.evidence.verify", description="Check that nothing in an evidence bundle was changed."
    )
    parser.add_argument("bundle", type=Path, help="the bundle file")
    parser.add_argument("--key", help="fingerprint of the key that must have sealed it")
    given = parser.parse_args(arguments)
    try:
        found = verify(given.bundle, given.key)
    except OSError as error:
        print(f"{given.bundle}: {error.strerror}", file=sys.stderr)
        return 2
    except ValueError as error:
        print(f"--key: {error}", file=sys.stderr)
        return 2
    for line in found.lines:
        print(line)
    return 0 if found.ok else 1


if __name__ == "__main__":
    sys.exit(main())
