"""How does Altair load in a third of the time? By leaving out one grammar that is never needed here."""

from __future__ import annotations

import sys


def skip_slow_grammar() -> None:
    """Keep `rfc3987_syntax` from being imported; call it before the first import of altair, nbformat or papermill.

    These load jsonschema, which imports that module when it is installed and builds a grammar from
    scratch at every start: about two seconds. jsonschema does so inside ``suppress(ImportError)``,
    so that a ``None`` in its place is a supported absence. What is lost is the check of the "iri"
    text formats in JSON schemas, which neither chart nor notebook has. A module that is already
    loaded is left as it is.
    """
    sys.modules.setdefault("rfc3987_syntax", None)  # type: ignore[arg-type]
