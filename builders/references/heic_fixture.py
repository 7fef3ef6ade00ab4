"""Encode the one HEIC file that the tests read: ``python -m builders.references.heic_fixture``.

The tool reads HEIF with a library that can only decode. This script alone needs an encoder, which
is under the GPL and no dependency, not even for development: ``pip install pillow-heif`` into an
environment of its own, run the script, and keep the file that it wrote.
"""

from pathlib import Path

from PIL import Image

FIXTURE = Path(__file__).resolve().parents[2] / "tests" / "brief" / "data" / "quarters.heic"
TAKEN = "2026:01:01 10:00:00"
_QUARTERS = ((220, 30, 30), (30, 200, 30), (30, 30, 220), (128, 128, 128))


def main() -> None:
    """Write four quarters of one colour each, 256 x 192 pixels, with the time they were taken."""
    import pillow_heif

    image, exif = Image.new("RGB", (256, 192)), Image.Exif()
    for place, colour in enumerate(_QUARTERS):
        left, top = place % 2 * 128, place // 2 * 96
        image.paste(colour, (left, top, left + 128, top + 96))
    exif.get_ifd(0x8769)[36867] = TAKEN
    pillow_heif.from_pillow(image).save(FIXTURE, quality=95, exif=exif.tobytes())


if __name__ == "__main__":
    main()
