"""Bring the pages' typefaces into the package: two families under the SIL Open Font Licence 1.1.

Alegreya and Alegreya Sans by Juan Pablo del Peral (Huerta Tipografica), Latin subsets, from their
npm packages, whose tarballs are checked by hash. Needs npm: ``python
builders/packaging/web_fonts.py``.
"""

import hashlib
import subprocess
import tarfile
import tempfile
from pathlib import Path

FONTS = Path(__file__).resolve().parents[2] / "sitwell" / "ui" / "web" / "look" / "fonts"
PACKAGES = {
    "@fontsource/alegreya@5.3.0": (
        "8b339fcef25323b402466275bdcc821ad2b4ffada37a9c87ccf196dc38cff667",
        ("alegreya-latin-500-normal.woff2", "alegreya-latin-500-italic.woff2"),
        "alegreya-OFL.txt",
    ),
    "@fontsource/alegreya-sans@5.3.0": (
        "f52077bb977c913b05ec2cc016b30858533005d376cff4280c7fa95dbace448b",
        (
            "alegreya-sans-latin-400-normal.woff2",
            "alegreya-sans-latin-400-italic.woff2",
            "alegreya-sans-latin-700-normal.woff2",
        ),
        "alegreya-sans-OFL.txt",
    ),
}


def main() -> None:
    """Fetch, check and unpack the chosen weights and each family's licence."""
    FONTS.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        for package, (sha256, names, licence) in PACKAGES.items():
            tarball = fetch(package, Path(folder))
            found = hashlib.sha256(tarball.read_bytes()).hexdigest()
            if found != sha256:
                raise SystemExit(f"{package} has the hash {found}, not {sha256}; look before use.")
            with tarfile.open(tarball) as archive:
                for name in names:
                    unpack(archive, f"package/files/{name}", FONTS / name)
                unpack(archive, "package/LICENSE", FONTS / licence)


def fetch(package: str, folder: Path) -> Path:
    """Let npm bring one package's tarball into a folder."""
    made = subprocess.run(
        ["npm", "pack", "--silent", package],
        cwd=folder,
        check=True,
        capture_output=True,
        text=True,
    )
    return folder / made.stdout.split()[-1]


def unpack(archive: tarfile.TarFile, member: str, target: Path) -> None:
    """Write one member of an archive to a file."""
    stream = archive.extractfile(member)
    if stream is None:
        raise SystemExit(f"{member} is not in {archive.name}; choose another version.")
    target.write_bytes(stream.read())


if __name__ == "__main__":
    main()
