"""What a fitter says when something ends a fitting: what it is called, and who comes first."""

STOP_WORDS = {
    "stops_vet_first": (
        "Stop, vet first",
        "The veterinary surgeon comes first. No saddle goes on until the vet has seen the horse and agrees.",
    ),
    "stops_not_today": (
        "Stop, not today",
        "Not today. Come back when what stops it is settled; clean the instrument if skin may be catching.",
    ),
    "stops_do_not_ride": (
        "Stop, do not ride",
        "Nobody rides in this saddle. The saddler comes first: repair or retire. Until then no fit check.",
    ),
}
