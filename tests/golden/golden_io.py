"""Writing golden files, or comparing with them (`--check`), in one way for all generators."""
import json
import sys
from pathlib import Path

HERE = Path(__file__).parent


def close(a, b, relative):
    """True where two JSON values agree: numbers to `relative`, all else exactly."""
    if isinstance(a, dict) and isinstance(b, dict):
        return a.keys() == b.keys() and all(close(a[k], b[k], relative) for k in a)
    if isinstance(a, list) and isinstance(b, list):
        return len(a) == len(b) and all(close(x, y, relative) for x, y in zip(a, b))
    if isinstance(a, (int, float)) and isinstance(b, (int, float)):
        return abs(a - b) <= relative * max(abs(a), abs(b), 1e-300)
    return a == b


def settle(name, document, relative):
    """Write `document`, or with --check compare the stored file with it to `relative`.

    Generators differ in the last bits between machines (linear algebra kernels), hence a tolerance and no hash.
    """
    path = HERE / name
    if "--check" not in sys.argv:
        path.write_text(json.dumps(document, indent=1) + "\n")
        print(f"wrote {name}")
        return
    if not close(json.loads(path.read_text()), document, relative):
        sys.exit(f"not ok {name}: the stored values differ from what the generator gives now")
    print(f"ok {name}")
