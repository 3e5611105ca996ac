"""What tests do with a proof bundle: make one, unpack it, run its own program in this process, alter it."""

from __future__ import annotations

import contextlib
import io
import sys
import zipfile
from functools import lru_cache
from pathlib import Path
from types import CodeType

from sessions.casebook.store import Casebook
from sessions.export import checker, proof

HOLDS = "THIS BUNDLE HOLDS"


def unpacked(casebook: Casebook, folder: Path) -> Path:
    """A casebook's bundle, unpacked as a stranger does."""
    proof.write(casebook, folder / "proof.zip")
    with zipfile.ZipFile(folder / "proof.zip") as archive:
        archive.extractall(folder / "proof")
    return folder / "proof"


def said(bundle: Path, *ends: str) -> str:
    """What the bundle's own program says, on either stream; run from its bytes as they lie there."""
    out, program = io.StringIO(), bundle / proof.CHECKER
    before = sys.argv
    sys.argv = [str(program), *ends]
    try:
        with contextlib.redirect_stdout(out):
            exec(_compiled(program.read_bytes()), {"__name__": "__main__", "__file__": str(program)})
    except SystemExit as left:
        return str(left.code)
    except BaseException as error:  # an altered program ends anyhow
        return f"{type(error).__name__}: {error}"
    finally:
        sys.argv = before
    return out.getvalue()


@lru_cache(maxsize=2)
def _compiled(program: bytes) -> CodeType:
    return compile(program, proof.CHECKER, "exec")


def members(bundle: Path) -> list[Path]:
    """Every file of it."""
    return sorted(path for path in bundle.rglob("*") if path.is_file())


def remanifested(bundle: Path) -> None:
    """The manifest written anew, as whoever alters a bundle can do."""
    (bundle / checker.MANIFEST).write_text("".join(checker.manifest(bundle)), encoding="utf-8")
