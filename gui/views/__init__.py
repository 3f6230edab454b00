"""One view and its presenter each; a presenter imports no Tk."""
