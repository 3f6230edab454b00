"""What F1 shows in the Buying view."""

from __future__ import annotations

HELP = """\
Which parts will be short, when, how sure that is, and what to do about it.

F6  the shortage board
F7  plans: overhauls, and hours to be run
F8  what is believed before our own record speaks
F9  what a sum of money is best spent on
F11, F12  enquiries that are open, quotes that stand
Alt+O, Alt+L, Alt+V  what is on order, what is lent, what the stock cost

Board. Every part that matters, worst first. The small chart in each row is the chance of running short \
by the end of each month; the broken lines are the thresholds that the shop has chosen. Choose a row, and \
its need and supply stand beneath it month by month: what will be wanted, what there will be, each with the \
range that holds it with 80 %, and under both the chance of running short.

Enter, or a double click  what the figures rest on
Ctrl+E  filter by engine; Tab goes on to family
Left, Right  in the chart: from month to month
Ins, F4  ask firms for the part, order it
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

Beliefs. How many of a family are rejected, fail in running and come back good from work, while our own \
record is short; each says as if of how many pieces it counts, and our own outweighs it as it grows.

F4, Enter  set what is believed of a family
Del  take back what the shop has set

Money. Type a sum and its currency: of all quotes that stand in it, the set that lowers the shortage most, \
with minimum quantities and prices by quantity, and a curve of what more or less money would do.

Ctrl+E  go to the sum
Enter  work it out
Left, Right  in the curve: from sum to sum

Enquiries, quotes, orders and loans. Firms are asked for parts, each by a sheet to fill in; what they quote \
is recorded, and ordered by. What comes is booked in against its order, in parts if need be; a firm's own \
record of days is told beneath its orders. Prices stand in their own currency, and none are added across.

Ins  ask firms, record a quote, order, lend
F4, Enter  what is meant most: record a quote, order by it, book in, get it back
Ctrl+B  in loans: borrow
Ctrl+E, Ctrl+G  order an exchange; say that our piece has gone
Ctrl+D  a firm declined
Ctrl+P  save the sheets, as PDF or workbook
Del  close, withdraw, or say that no more comes
F5  read it again"""
