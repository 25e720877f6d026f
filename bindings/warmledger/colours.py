"""The colours of decisions, for figures and workbooks alike."""

# For bars, and lighter for cells. The hues are from the set of Okabe & Ito (2008) for colour-blind readers; the
# decision also stands in words everywhere.
DECISION_COLOURS = {
    "pays in cash": ("#0072B2", "#CFE5F3"),
    "pays with loan": ("#56B4E9", "#E3F3FC"),
    "needs more help": ("#E69F00", "#FBEBCB"),
    "does not pay": ("#999999", "#ECECEC"),
    "not suitable": ("#555555", "#DADADA"),
    "bad row": ("#D55E00", "#F7D9C6"),
}
