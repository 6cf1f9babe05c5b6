"""The invented care plans of the sample families, as blocks of people.toml."""

from typing import Final

# Amounts near the guideline's 0.3 g/kg (ISPAD 2022); everything else is invented, numbers lead nowhere.
PLANS: Final = {
    "robin": """
[person.plan]
standard_grams = 9.0
below_54_grams = 10.0
least_grams = 3.5
most_grams = 10.0
look_again_minutes = 15
second_grams = 5.0
early_grams_allowed = true
early_grams = 3.5
contacts = ["Mother 555 0100", "Father 555 0101", "Clinic 555 0111"]
call_when = "still below 70 after two amounts, or drowsy"
glucagon = "nasal, 3 mg"
glucagon_where = "red bag, kitchen shelf"
vomiting = "if nothing stays down for an hour, come in"
sport = "look every 30 minutes and twice in the night after"
illness = "look every 2 hours; ketones with every look"
approved_by = "Dr. A. Example"
approved_role = "paediatric diabetologist"
approved_on = 2025-09-15
valid_until = 2026-03-15

[person.plan.school]
grams = 9.2
year_from = 2025-09-01
year_until = 2026-06-12
authorised_by_parent = "Pat Example"
authorised_on = 2025-09-16
staff = ["Ms. Sample", "Mr. Model"]
kit = "candy, meter and glucagon in the red bag, school office"
glucagon_where = "red bag, school office"
kit_expires_on = 2026-05-31""",
    "kim": """
[person.plan]
standard_grams = 12.0
below_54_grams = 15.0
least_grams = 6.0
most_grams = 15.0
look_again_minutes = 15
second_grams = 9.0
contacts = ["Mutter 0555 5550100", "Diabetesambulanz 0555 5550111"]
call_when = "nach zwei Gaben noch unter 3,9 oder benommen"
glucagon = "nasal, 3 mg"
glucagon_where = "Nachttisch, oberste Schublade"
vomiting = ""
sport = "vorher und alle 30 Minuten messen, nachts einmal mehr"
illness = "alle 2 Stunden messen, jedes Mal Ketone"
in_puberty = true
approved_by = "Dr. B. Beispiel"
approved_role = "Kinderdiabetologin"
approved_on = 2025-09-22
valid_until = 2025-12-22

[person.plan.school]
grams = 12.0
year_from = 2025-09-15
year_until = 2026-07-31
authorised_by_parent = "Alex Beispiel"
authorised_on = 2025-09-23
staff = ["Frau Muster"]
kit = "Traubenzucker, Messgerät und Glukagon in der blauen Tasche, Sekretariat"
glucagon_where = "blaue Tasche, Sekretariat"
kit_expires_on = 2026-04-30""",
    "noor": """
[person.plan]
standard_grams = 12.0
below_54_grams = 12.0
least_grams = 4.0
most_grams = 12.0
look_again_minutes = 15
second_grams = 8.0
automated_grams = 8.0
contacts = ["Mother 555 0120", "Clinic 555 0121"]
call_when = "still below 70 after two amounts, or drowsy"
glucagon = "nasal, 3 mg"
glucagon_where = "white box, bathroom cabinet"
vomiting = "if nothing stays down for an hour, come in"
sport = "look every 30 minutes"
illness = "look every 2 hours; ketones with every look"
approved_by = "Dr. C. Sample"
approved_role = "paediatric diabetologist"
approved_on = 2025-09-18
valid_until = 2026-03-18

[person.plan.school]
grams = 12.0
year_from = 2025-09-04
year_until = 2026-06-26
authorised_by_parent = "Kit Sample"
authorised_on = 2025-09-19
staff = ["Mx. Example"]
kit = "tablets, meter and glucagon in the white box, nurse's office"
glucagon_where = "white box, nurse's office"
kit_expires_on = 2026-05-31""",
}
