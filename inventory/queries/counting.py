"""What a round of scanning found against what is on record."""

from dataclasses import dataclass

from inventory.models import CountRound, CountSeen, Lot, Position


@dataclass(frozen=True)
class RoundResult:
    """missing: on record at a place that was scanned and not seen. misplaced: seen elsewhere
    than on record, or waiting to be put away. unexpected: seen, but out or empty on record."""

    seen: int
    missing: list[Lot]
    misplaced: list[CountSeen]
    unexpected: list[CountSeen]


def read_round(count_round: CountRound) -> RoundResult:
    """Compare a round with the record, in the rooms in which something was scanned."""
    seen = list(
        count_round.seen.select_related("lot__crop", "lot__position", "position__room").order_by(
            "position__walk", "lot_id"
        )
    )
    rooms = {sight.position.room_id for sight in seen}
    places = Position.objects.filter(room__in=rooms)
    expected = Lot.objects.filter(state=Lot.State.IN_PLACE, position__in=places).exclude(
        pk__in=[sight.lot_id for sight in seen]
    )
    here = [sight for sight in seen if sight.lot.is_here]
    return RoundResult(
        seen=len(seen),
        missing=list(expected.select_related("crop", "position").order_by("position__walk", "pk")),
        misplaced=[sight for sight in here if sight.lot.position_id != sight.position_id],
        unexpected=[sight for sight in seen if not sight.lot.is_here],
    )
