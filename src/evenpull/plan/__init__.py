"""What was asked: joint and tool files, the plan that follows, and the help to write them.

joint TOML --read_specification--> Specification --make_plan(tools, day)--> Plan
"""

from evenpull.plan.errors import Fault, SpecificationError
from evenpull.plan.forms import form_to_toml, toml_to_form
from evenpull.plan.guide import HelpRow, schema_help, template, tools_help, tools_template
from evenpull.plan.make import make_plan
from evenpull.plan.model import Plan, Specification, Tool
from evenpull.plan.read import read_specification, read_specification_file
from evenpull.plan.tools import read_tools, read_tools_file

__all__ = [
    "Fault", "HelpRow", "Plan", "Specification", "SpecificationError", "Tool", "form_to_toml", "make_plan",
    "read_specification", "read_specification_file", "read_tools", "read_tools_file", "schema_help", "template",
    "toml_to_form", "tools_help", "tools_template",
]
