"""Writes xlwt.xls and xlwt-1904.xls with python3-xlwt 1.3.0 (BSD), as workbooks
of another producer. Invented values. Run with the folder to write into."""
import datetime, os, sys
import xlwt

out = sys.argv[1]
w = xlwt.Workbook()
s = w.add_sheet("Results")
f = lambda code: xlwt.easyxf(num_format_str=code)
s.write_merge(0, 0, 0, 5, "Tansy Row allotments \u2013 soil, \u00b5g/g")
for c, h in enumerate(["Lab No", "Sampled", "pH", "P ppm", "K ppm", "Note"]):
    s.write(2, c, h)
rows = [
    ("A-1", datetime.date(2026, 3, 4), 6.47, 17.25, 1878, "ok"),
    ("A-2", datetime.date(2026, 3, 5), 5.9, 0.3, 94, "< limit"),
    ("A-3", datetime.datetime(2026, 3, 6, 14, 15), 7, -4, 1234567, "\u65e5\u672c \u03b1"),
]
for r, (a, d, ph, p, k, note) in enumerate(rows, 3):
    s.write(r, 0, a)
    s.write(r, 1, d, f("d-mmm-yy") if r < 5 else f("yyyy-mm-dd hh:mm"))
    s.write(r, 2, ph, f("0.0"))
    s.write(r, 3, p, f('[<0.5]"<0.50";0.00'))
    s.write(r, 4, k, f("#,##0"))
    s.write(r, 5, note)
s.write(7, 0, True)
s.write(7, 1, False)
s.write(7, 2, 1e-7)
s.write(7, 3, 0.1 + 0.2)
s.write(7, 4, 1e15)
s.write(7, 5, 0.0895, f("0.0%"))
s.row(8).hidden = True
s.write(8, 0, "hidden row")
s.col(7).hidden = True
s.write(3, 7, "hidden column")
h = w.add_sheet("QC")
h.visibility = 1
h.write(1, 1, "blank ok")
h.write(1, 2, 12)
# Texts of one and two bytes a character in turn, more than one record holds,
# so that the list of texts is continued in the middle of texts.
t = w.add_sheet("Texts")
for i in range(200):
    t.write(i, 0, "sample %03d " % i + "plain " * (i % 17))
    t.write(i, 1, "\u03bc-%03d " % i + "\u0394\u03b5\u03af\u03b3\u03bc\u03b1 " * (i % 13))
w.save(os.path.join(out, "xlwt.xls"))

w = xlwt.Workbook()
w.dates_1904 = True
s = w.add_sheet("Dates")
s.write(0, 0, 44623, f("d-mmm-yy"))
s.write(1, 0, 0, f("yyyy-mm-dd"))
s.write(2, 0, 12.5)
w.save(os.path.join(out, "xlwt-1904.xls"))

w = xlwt.Workbook()
s = w.add_sheet("Sums")
s.write(0, 0, 2)
s.write(0, 1, xlwt.Formula("A1*2"))
w.save(os.path.join(out, "xlwt-formula.xls"))
