"""A saved notebook as a page of HTML."""

from pathlib import Path

NOTEBOOKS = sorted((Path(__file__).resolve().parents[2] / "notebooks").glob("*.ipynb"))


def exported(path):
    """As `jupyter nbconvert --to html` writes it, asking for nothing from elsewhere."""
    from nbconvert import HTMLExporter

    return HTMLExporter(mathjax_url="", require_js_url="", embed_images=True).from_filename(str(path))[0]
