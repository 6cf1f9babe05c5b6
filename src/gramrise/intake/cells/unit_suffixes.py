"""Units written behind a number in its own cell."""

# A unit behind a number in its own cell: "104 mg/dL".
UNIT_BEHIND = r"(?i)\s*(mg ?/ ?dl|mg%|mmol ?/ ?l|mmol)\.?$"
# The same for what stands beside glucose; a unit that is not the column's own stays, and the cell is no number.
BEHIND = {
    "insulin": r"(?i)\s*(u|iu|ie|ui|units?)\.?$",
    "gram": r"(?i)\s*(g|grams?|gramm)\.?$",
    "kg": r"(?i)\s*kg\.?$",
    "lb": r"(?i)\s*(lbs?|pounds?)\.?$",
}
ANY_UNIT_BEHIND = r"(?i)\s*(mg ?/ ?dl|mg%|mmol ?/ ?l|mmol|u|iu|ie|ui|units?|g|grams?|gramm|kg|lbs?|pounds?)\.?$"
