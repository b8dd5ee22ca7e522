"""Fifty names that break what does not clean its texts; each output is tested with all of them."""

NASTY_NAMES = (
    # Programs: comments that end early, act, or end the file.
    "x)G0 X800 Y450(", "(MSG, hello)", "MSG, stop", "LOG, a", "DEBUG, #1", "PRINT, #2", "%", "a;b", "M30", "O1000",
    "N10 M5", "/M5", "#5=1", "[1+1]", "{part}", "{unknown}",
    # Spreadsheets.
    "=1+1", "+1", "-1", "@SUM(A1)", "a;=1+1", "a,=1+1", "a\t=1+1", '"', '""', "a\"b;c", "'quoted'",
    # Markup and pages.
    "<script>alert(1)</script>", "]]>", "<!--", "&amp;", "&#0;", "a\"onload=\"x", "{{ 7*7 }}", "{% raw %}", "</title>",
    # Terminals.
    "\x1b[2J\x1b[31m", "[bold red]", "a\x07b", "a\rb", "a\nb", "\x9b31m", "\u202egnp.exe", "a\x00b", "\x7f",
    # Files and letters.
    "../../up", "CON", "a/b\\c", "Größe ×½ µ", "\ufeffname", "板 鋼",
)  # fmt: skip
