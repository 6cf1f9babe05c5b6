"""Units written behind a number in its own cell."""

# The blanks before it are bounded: sought without end, a cell of blanks takes the square of its length.
# A unit behind a number in its own cell: "104 mg/dL".
UNIT_BEHIND = r"(?i)\s{0,9}(mg ?/ ?dl|mg%|mmol ?/ ?l|mmol)\.?$"
# The same for what stands beside glucose; a unit that is not the column's own stays, and the cell is no number.
BEHIND = {
    "insulin": r"(?i)\s{0,9}(u|iu|ie|ui|units?)\.?$",
    "gram": r"(?i)\s{0,9}(g|grams?|gramm)\.?$",
    "kg": r"(?i)\s{0,9}kg\.?$",
    "lb": r"(?i)\s{0,9}(lbs?|pounds?)\.?$",
}
ANY_UNIT_BEHIND = r"(?i)\s{0,9}(mg ?/ ?dl|mg%|mmol ?/ ?l|mmol|u|iu|ie|ui|units?|g|grams?|gramm|kg|lbs?|pounds?)\.?$"
