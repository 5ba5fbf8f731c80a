"""What a round of scanning found against what is on record."""

from dataclasses import dataclass

from inventory.models import CountRound, CountSeen, Lot, Position


@dataclass(frozen=True)
class RoundResult:
    """missing: on record at a place that was walked to and not seen. misplaced: seen elsewhere
    than on record, or waiting to be put away. unexpected: seen, but out on record; used_up: empty.
    not_walked: places of the same rooms where something should stand, still to be walked to."""

    seen: int
    missing: list[Lot]
    misplaced: list[CountSeen]
    unexpected: list[CountSeen]
    used_up: list[CountSeen]
    not_walked: list[Position]

    @property
    def differ(self) -> int:
        """How many crates are not as on record."""
        sights = len(self.misplaced) + len(self.unexpected) + len(self.used_up)
        return len(self.missing) + sights


def read_round(count_round: CountRound) -> RoundResult:
    """Compare a round with the record, at the places that were walked to."""
    seen = list(
        count_round.seen.select_related("lot__crop", "lot__position", "position__room").order_by(
            "position__walk", "lot_id"
        )
    )
    walked = count_round.places.all()
    in_place = Lot.objects.filter(state=Lot.State.IN_PLACE)
    expected = in_place.filter(position__in=walked).exclude(pk__in=[sight.lot_id for sight in seen])
    here = [sight for sight in seen if sight.lot.is_here]
    away = [sight for sight in seen if not sight.lot.is_here]
    return RoundResult(
        seen=len(seen),
        missing=list(expected.select_related("crop", "position").order_by("position__walk", "pk")),
        misplaced=[sight for sight in here if sight.lot.position_id != sight.position_id],
        unexpected=[sight for sight in away if sight.lot.state == Lot.State.OUT],
        used_up=[sight for sight in away if sight.lot.state != Lot.State.OUT],
        not_walked=list(
            Position.objects.filter(room__in=walked.values("room"), lots__in=in_place)
            .exclude(pk__in=walked)
            .distinct()
        ),
    )
