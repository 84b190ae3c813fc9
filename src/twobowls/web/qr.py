"""QR codes as pictures that keep their contrast in light and dark."""

import io

import segno


def qr_svg(text: str) -> bytes:
    """Return a QR code as an SVG file, dark on white with its quiet zone."""
    out = io.BytesIO()
    code = segno.make(text, error="m", micro=False)
    code.save(out, kind="svg", scale=8, border=3, dark="#16110d", light="#ffffff", xmldecl=False)
    return out.getvalue()
