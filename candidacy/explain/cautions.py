"""Cautions that every output carries. Wording only; nothing here decides."""

GENERAL = (
    "Decision support for licensed clinicians: not a diagnosis, not an order, not a decision.",
    "Local protocol, product instructions, payer rules and law prevail over anything shown here.",
    "A standing is a status under the named rule set, never an instruction; no hidden score exists.",
    "Benefit of these injections over a control injection has not been firmly shown, and they are commonly "
    "held to be investigational.",
    "Numbers tagged memory, weak, common practice, derived or local need local confirmation before clinical use.",
    "It reads reported text and values only; it has seen no image.",
)
INVENTED = "Demonstration data: this case is invented and describes no real person."
EMERGENCY = "A sign of a possible emergency outranks this program: follow the local emergency pathway now."
