"""Native charts of a workbook's tables: axes with titles and units, light gridlines, colours that differ in grey."""

from __future__ import annotations

import math
import operator
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from brewcost.sheets import Chart

# Dark to light, so that the parts of a stack stay apart on a black and white print.
COLOURS = ("2F4858", "A65E2E", "6E8F6B", "D9B25F", "8A8378", "C98B73")
GRID = "D9D5CC"
TEXT = "2B2B2B"


def draw(ws: Any, chart: Chart, headings: Sequence[str], heading_row: int, last_row: int) -> Any:
    """A chart of some columns of a table.

    Args:
        ws: the sheet the table stands on.
        chart: kind, title, and the columns by heading.
        headings: the table's headings from column A on.
        heading_row: the row of the headings; the data run from the next row to `last_row`.
        last_row: the last row of data.

    Raises:
        ValueError: a column the chart names is not in the table.
    """
    from openpyxl.chart import BarChart, LineChart, Reference

    lined = chart.kind in ("line", "interval")
    drawing = LineChart() if lined else BarChart()
    for heading in chart.values:
        column = headings.index(heading) + 1
        values = Reference(ws, min_col=column, min_row=heading_row, max_row=last_row)
        drawing.add_data(values, titles_from_data=True)
    category = headings.index(chart.category) + 1
    drawing.set_categories(Reference(ws, min_col=category, min_row=heading_row + 1, max_row=last_row))
    drawing.width, drawing.height = chart.width_cm, chart.height_cm
    _title(drawing, chart.title, 1200, bold=True)
    _axes(drawing, chart)
    places = [headings.index(heading) + 1 for heading in chart.bounds]
    bounds = [Reference(ws, min_col=place, min_row=heading_row + 1, max_row=last_row) for place in places]
    for index, series in enumerate(drawing.series):
        # A waterfall's first values are not drawn.
        colour = COLOURS[(index - chart.kind.startswith("waterfall")) % len(COLOURS)]
        if chart.kind == "interval":
            marked = chart.values[index] == chart.marked
            colour = COLOURS[marked]
            _colour(series, colour, line=True)
            _bound(series, colour, [str(cells) for cells in bounds], marked)
        else:
            _colour(series, colour, line=lined)
    if chart.kind.startswith("waterfall"):
        _lift(drawing)
    if chart.kind == "waterfall_bar":
        columns = [headings.index(heading) + 1 for heading in chart.values]
        _near(drawing.y_axis, [[float(ws.cell(row, column).value or 0) for column in columns]
                               for row in range(heading_row + 1, last_row + 1)])  # fmt: skip
    if chart.kind == "interval":
        rows = range(heading_row + 1, last_row + 1)
        points = [[ws.cell(row, headings.index(heading) + 1).value for heading in chart.values] for row in rows]
        point = [float(next(value for value in values if value is not None)) for values in points]
        up, down = ([float(ws.cell(row, place).value) for row in rows] for place in places)
        _span(drawing.y_axis, min(*map(operator.sub, point, down), 0.0), max(*map(operator.add, point, up), 0.0))
    # Programs do not agree on which entry of a lying stack's legend belongs to the bars that are not drawn.
    if len(chart.values) == 1 or chart.kind == "waterfall_bar":
        drawing.legend = None
    else:
        drawing.legend.position = "b"
        drawing.legend.overlay = False
    return drawing


def _axes(drawing: Any, chart: Chart) -> None:
    from openpyxl.chart.shapes import GraphicalProperties

    if chart.kind not in ("line", "interval"):
        drawing.type = "bar" if chart.kind.endswith("bar") else "col"
        drawing.gapWidth = 60
        if chart.kind.startswith(("stacked", "waterfall")):
            drawing.grouping, drawing.overlap = "stacked", 100
    # openpyxl leaves both axes out unless told otherwise.
    drawing.x_axis.delete = drawing.y_axis.delete = False
    _title(drawing.y_axis, chart.axis, 900)
    if chart.category_axis:
        _title(drawing.x_axis, chart.category_axis, 900)
    drawing.x_axis.tickLblPos = "low"  # clear of the bars where a figure is below zero
    small = "0.0" if chart.axis.startswith("%") else "#,##0"
    drawing.y_axis.number_format = "#,##0.00" if chart.kind == "interval" else small
    drawing.y_axis.majorGridlines.spPr = GraphicalProperties(ln=_line(GRID, 6350))
    for axis in (drawing.x_axis, drawing.y_axis):
        axis.graphicalProperties = GraphicalProperties(ln=_line("8C8577", 6350))
        axis.txPr = _rich("", 900, False)
    if drawing.tagname == "barChart" and drawing.type == "bar":
        drawing.x_axis.scaling.orientation = "maxMin"  # first row of the table on top
        drawing.x_axis.tickLblSkip = 1  # every name, however many there are
        drawing.y_axis.crosses = "max"


def _colour(series: Any, colour: str, line: bool) -> None:
    from openpyxl.chart.marker import Marker

    if line:
        series.graphicalProperties.line.solidFill = colour
        series.graphicalProperties.line.width = 22225
        series.marker = Marker(symbol="circle", size=6)
        series.marker.graphicalProperties.solidFill = colour
        series.marker.graphicalProperties.line.solidFill = colour
        series.smooth = False
    else:
        series.graphicalProperties.solidFill = colour
        series.graphicalProperties.line.solidFill = colour
        series.invertIfNegative = False


def _bound(series: Any, colour: str, bounds: Sequence[str], marked: bool) -> None:
    """Points with an interval around each instead of a line; marked ones are larger and of another shape, for grey prints."""
    from openpyxl.chart.data_source import NumDataSource, NumRef
    from openpyxl.chart.error_bar import ErrorBars
    from openpyxl.chart.shapes import GraphicalProperties

    series.graphicalProperties.line.solidFill = None
    series.graphicalProperties.line.noFill = True
    series.marker.symbol, series.marker.size = ("diamond", 10) if marked else ("circle", 6)
    series.errBars = ErrorBars(
        errDir="y", errBarType="both", errValType="cust", plus=NumDataSource(numRef=NumRef(f=bounds[0])),
        minus=NumDataSource(numRef=NumRef(f=bounds[1])), spPr=GraphicalProperties(ln=_line(colour, 22225 if marked else 12700)),
    )  # fmt: skip


def _span(axis: Any, low: float, high: float) -> None:
    """An axis that holds all from low to high: programs look at the points only, not at how far they reach."""
    wide = high - low or 1.0
    power = 10 ** math.floor(math.log10(wide / 6))
    step = next(size * power for size in (1, 2, 5, 10) if size * power >= wide / 6)
    axis.scaling.min, axis.scaling.max = step * math.floor(low / step), step * math.ceil(high / step)
    axis.majorUnit = step


def _near(axis: Any, bars: Sequence[Sequence[float]]) -> None:
    """Steps between two large figures are slivers on an axis from nought: it begins below the smallest, where all are above."""
    ends = [end for floor, whole, *rest in bars for end in ([whole] if whole else [floor, floor + sum(rest)])]
    if bars and min(ends) > 0:
        low, high = min(ends), max(ends)
        _span(axis, max(low - (high - low) / 3, 0.0), high)


def _lift(drawing: Any) -> None:
    """The first values of a waterfall carry its bars: they are not drawn and have no place in the legend."""
    from openpyxl.chart.legend import LegendEntry

    carrier = drawing.series[0].graphicalProperties
    carrier.solidFill, carrier.line.solidFill = None, None
    carrier.noFill = carrier.line.noFill = True
    drawing.legend.legendEntry = [LegendEntry(idx=0, delete=True)]
    drawing.gapWidth = 30


def _line(colour: str, width: int) -> Any:
    from openpyxl.drawing.line import LineProperties

    return LineProperties(solidFill=colour, w=width)


def _rich(text: str, size: int, bold: bool) -> Any:
    from openpyxl.chart.text import RichText
    from openpyxl.drawing.text import (
        CharacterProperties,
        Paragraph,
        ParagraphProperties,
        RegularTextRun,
        RichTextProperties,
    )

    looks = CharacterProperties(sz=size, b=bold, solidFill=TEXT)
    runs = [RegularTextRun(rPr=looks, t=text)] if text else None
    end = None if text else looks
    return RichText(
        bodyPr=RichTextProperties(),
        p=[Paragraph(pPr=ParagraphProperties(defRPr=looks), r=runs, endParaRPr=end)],
    )


def _title(owner: Any, text: str, size: int, bold: bool = False) -> None:
    from openpyxl.chart.text import Text
    from openpyxl.chart.title import Title

    # Without overlay set, spreadsheet programs may draw a title over the plot.
    owner.title = Title(tx=Text(rich=_rich(text, size, bold)), overlay=False)
