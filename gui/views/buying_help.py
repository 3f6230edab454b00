"""What F1 shows in the Buying view."""

from __future__ import annotations

HELP = """\
Which parts will be short, when, how sure that is, and what to do about it.

F6  the shortage board
F7  plans: overhauls, and hours to be run

Board. Every part that matters, worst first. The small chart in each row is the chance of running short \
by the end of each month; the broken lines are the thresholds that the shop has chosen. Choose a row, and \
its need and supply stand beneath it month by month: what will be wanted, what there will be, each with the \
range that holds it with 80 %, and under both the chance of running short.

Enter, or a double click  what the figures rest on
Ctrl+E  filter by engine; Tab goes on to family
Left, Right  in the chart: from month to month
Ctrl+O  show the part in the catalogue
Ctrl+P  save the list, as PDF or workbook
Ctrl+Shift+J  choose the thresholds and how far ahead to look

Plan. Engines to be opened: what somebody planned goes before what hours and limits propose. Beneath, the \
hours each engine is to run, month by month; where nothing is planned it goes on as of late.

Ins  plan an overhaul
F4, Enter  change it, or plan what is proposed
Ctrl+D  say that it was done
Del  take it back
Ctrl+G  go to the hours
Figures, Enter  type hours and go on to the next month
Ctrl+R  in the hours: the same in all later months
Del  in the hours: go on as of late again
Ctrl+S  save the hours
F5  read it again"""
