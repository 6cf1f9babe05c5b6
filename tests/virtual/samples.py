"""Write `sample_exports` anew, byte for byte. From a checkout: PYTHONPATH=tests python -m virtual.samples [DIR]."""

import sys
from pathlib import Path

from virtual.sample_files import family_a_files, family_b_files, people_toml, truth_json
from virtual.sample_people import SHIPPED_SEED, families, sample_family
from virtual.sample_records import family_c_files

WRITERS = {"family_a": family_a_files, "family_b": family_b_files, "family_c": family_c_files}


def sample_texts(seed: int = SHIPPED_SEED) -> dict[str, str]:
    """Path below `sample_exports` -> text, for the families of a seed."""
    texts: dict[str, str] = {}
    lived, entries = {}, []
    for family in families(seed):
        lived[family.folder] = sample_family(seed, family.folder)
        inputs = lived[family.folder].inputs[0]
        files = WRITERS[family.folder](inputs)
        texts |= {f"{family.folder}/{name}": text for name, text in files.items()}
        entries.append((family.folder, family.plan, inputs, tuple(files)))
    return texts | {"people.toml": people_toml(tuple(entries)), "truth.json": truth_json(seed, lived)}


def write_samples(folder: Path, seed: int = SHIPPED_SEED) -> tuple[Path, ...]:
    """Write the families of a seed below `folder`; what was written, in order."""
    written = []
    for name, text in sample_texts(seed).items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text.encode("utf-8"))
        written.append(path)
    return tuple(written)


def main(arguments: list[str]) -> int:
    folder = Path(arguments[0]) if arguments else Path("sample_exports")
    for path in write_samples(folder):
        sys.stdout.write(f"{path}\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main(sys.argv[1:]))
