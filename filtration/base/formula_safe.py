"""Text in a table that no spreadsheet works out, and that comes back as it was.

A spreadsheet takes a cell for a formula that begins with = + - @, a tab or a line end. A text that begins so, or with
apostrophes and then so, gets one apostrophe in front; reading takes one off exactly these.
"""

import re

_FORMULA = "[=+\\-@\t\r\n\uff1d\uff0b\uff0d\uff20]"  # a spreadsheet works out what begins so, its wide letters too
_HIDES_IN = re.compile(f"'*{_FORMULA}")
_HIDDEN = re.compile(f"'+{_FORMULA}")


def hidden(text: str) -> str:
    """Return a text as a cell that is no formula.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str
        The text, with an apostrophe in front where it needs one.

    Examples
    --------
    >>> hidden("=1+1"), hidden("'=1+1"), hidden("Pleated 20")
    ("'=1+1", "''=1+1", 'Pleated 20')
    """
    return f"'{text}" if _HIDES_IN.match(text) else text


def unhidden(cell: str) -> str:
    """Return the text of a cell that ``hidden`` made.

    Parameters
    ----------
    cell : str
        The cell.

    Returns
    -------
    str
        The text.

    Examples
    --------
    >>> unhidden("'=1+1"), unhidden("'tis")
    ('=1+1', "'tis")
    """
    return cell[1:] if _HIDDEN.match(cell) else cell
