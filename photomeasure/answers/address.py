"""The app's address for a phone on the same network: in words and as a square code."""

import socket

from reportlab.graphics.barcode.qrencoder import QRCode, QRErrorCorrectLevel

__all__ = ["network_address", "qr_rows", "qr_svg", "qr_text"]

_QUIET = 4  # modules of white all round: ISO/IEC 18004
_ELSEWHERE = ("192.0.2.1", 9)  # an address for examples (RFC 5737); nothing is sent to it


def network_address() -> str | None:
    """Give this machine's address on its own network; None where it is on none.

    Returns
    -------
    str or None
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(_ELSEWHERE)  # UDP: looks the way up, sends nothing
            found = str(probe.getsockname()[0])
        except OSError:
            return None
    return None if found.startswith(("127.", "0.")) else found


def qr_rows(text: str) -> tuple[tuple[bool, ...], ...]:
    """Give the dark modules of a text's code, with its quiet zone.

    Parameters
    ----------
    text : str

    Returns
    -------
    tuple of tuple of bool
    """
    code = QRCode(None, QRErrorCorrectLevel.M)
    code.addData(text)
    code.make()
    size = code.getModuleCount()
    span = range(-_QUIET, size + _QUIET)
    return tuple(
        tuple(
            bool(0 <= row < size and 0 <= column < size and code.isDark(row, column))
            for column in span
        )
        for row in span
    )


def qr_svg(text: str) -> str:
    """Draw a text's code.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
        SVG.
    """
    rows = qr_rows(text)
    dark = "".join(
        f"M{x},{y}h1v1h-1z"
        for y, row in enumerate(rows)
        for x, is_dark in enumerate(row)
        if is_dark
    )
    size = len(rows)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {size} {size}" width="{8 * size}" '
        f'height="{8 * size}" shape-rendering="crispEdges"><rect width="{size}" height="{size}" '
        f'fill="#ffffff"/><path d="{dark}" fill="#000000"/></svg>'
    )


def qr_text(text: str) -> str:
    """Draw a text's code for a dark terminal, two rows of modules in a line of letters.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
    """
    rows = qr_rows(text)
    if len(rows) % 2:
        rows = (*rows, (False,) * len(rows[0]))
    blocks = {(False, False): "█", (False, True): "▀", (True, False): "▄", (True, True): " "}
    return "\n".join(
        "".join(blocks[pair] for pair in zip(upper, lower, strict=True))
        for upper, lower in zip(rows[::2], rows[1::2], strict=True)
    )
