"""Draw the README's picture: the top of the gallery's page, light and dark side by side.

Run as `python tests/support/picture.py` where the package and its test extra are installed.
"""

from __future__ import annotations

import io
from pathlib import Path
from tempfile import TemporaryDirectory

from browsing import chromium
from click.testing import CliRunner

HOME = Path(__file__).parents[2]
PICTURE = HOME / "sample_reports" / "report.png"
SIZE = {"width": 960, "height": 1080}
COLOURS = 256  # enough for text and marks in both, and half the bytes


def main() -> None:
    """Audit the sample, open its page in Chromium and keep what a reader sees first."""
    from PIL import Image

    from audit.cli import main as claimlight

    with TemporaryDirectory() as out, chromium() as browser:
        CliRunner().invoke(claimlight, ["audit", str(HOME / "sample_reports" / "gallery"), "--out", out, "--quiet"])
        sheet = Image.new("RGB", (2 * SIZE["width"], SIZE["height"]))
        for place, scheme in enumerate(("light", "dark")):
            shown = browser.new_page(viewport=SIZE, color_scheme=scheme)
            shown.goto((Path(out) / "report.html").as_uri())
            sheet.paste(Image.open(io.BytesIO(shown.screenshot())), (place * SIZE["width"], 0))
    sheet.quantize(COLOURS).save(PICTURE, optimize=True)


if __name__ == "__main__":
    main()
