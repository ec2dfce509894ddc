"""One joint calculated under published rule sets, each by itself: file, sheet, plots, comparison.

calculation TOML --read_calculation--> Calculation --make_sheet--> Sheet --compare, plots--> what is shown
"""

from evenpull.calculation.compare import Comparison, compare
from evenpull.calculation.guide import calculation_help, calculation_template
from evenpull.calculation.model import Calculation
from evenpull.calculation.plots import Plot, plots
from evenpull.calculation.read import read_calculation, read_calculation_file
from evenpull.calculation.sheet import RulePart, Sheet, make_sheet

__all__ = [
    "Calculation", "Comparison", "Plot", "RulePart", "Sheet", "calculation_help", "calculation_template", "compare",
    "make_sheet", "plots", "read_calculation", "read_calculation_file",
]
