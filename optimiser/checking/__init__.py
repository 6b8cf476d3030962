"""The independent judge: every rule of a cutting result or a plan, derived anew and checked exactly.

It shares no code with what it judges: only the types of a project, a plan and a cutting problem are imported,
and all arithmetic is in integers and fractions. Each broken rule is one plain line that names the place, the
rule and the values; an empty list means that nothing is broken. That a plan keeps the rules of its project
says nothing about the tested detail: that, local code and a licensed practitioner decide.
"""

from optimiser.checking.plans import broken_rules_of_plan
from optimiser.checking.results import broken_rules_of_result

__all__ = ["broken_rules_of_plan", "broken_rules_of_result"]
