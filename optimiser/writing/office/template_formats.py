"""The formats of the workbook of a survey: headings, examples, cells to fill in, the printed form."""

from __future__ import annotations

from typing import Any


class TemplateFormats:
    """The formats of one workbook; `columns` are those of whole columns, by what their cells take."""

    def __init__(self, book: Any) -> None:
        base = {"font_name": "Arial", "font_size": 10, "valign": "top"}

        def style(**more: Any) -> Any:
            return book.add_format(base | more)

        head = {"bold": True, "text_wrap": True, "valign": "vcenter", "bottom": 1}
        self.title = style(bold=True, font_size=14)
        self.text = style(indent=1)
        self.wrapped = style(text_wrap=True)
        self.label = style(bold=True)
        self.label_right = style(bold=True, indent=1)
        self.label_low = style(bold=True, valign="bottom")
        self.required = style(**head, bg_color="#2F4858", font_color="#FFFFFF", indent=1)
        self.optional = style(**head, bg_color="#DDE3E8", indent=1)
        self.required_number = style(**head, bg_color="#2F4858", font_color="#FFFFFF", align="right")
        self.optional_number = style(**head, bg_color="#DDE3E8", align="right")
        self.example = style(italic=True, font_color="#5F6B73", bg_color="#F4F1E8")
        self.example_text = style(italic=True, font_color="#5F6B73", bg_color="#F4F1E8", indent=1)
        self.example_date = style(
            italic=True, font_color="#5F6B73", bg_color="#F4F1E8", num_format="yyyy-mm-dd", align="left"
        )
        self.note = style(font_color="#404A50", text_wrap=True, indent=1)
        boxed = {"bg_color": "#FFFBEA", "border": 1, "border_color": "#C9CFD4", "align": "left"}
        self.input = style(**boxed)
        self.input_date = style(**boxed, num_format="yyyy-mm-dd")
        self.boxed = style(border=1, valign="vcenter", indent=1)
        self.boxed_head = style(
            border=1, bold=True, text_wrap=True, bg_color="#DDE3E8", valign="vcenter", indent=1
        )
        self.caution = style(font_size=8, text_wrap=True)
        self.columns = {
            "mm": style(num_format="0"),
            "money": style(num_format="0.00"),
            "date": style(num_format="yyyy-mm-dd", align="left"),
            "rate": style(num_format="0.00##"),
        }
