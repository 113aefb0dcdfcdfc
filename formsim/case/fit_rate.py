"""Whether speeds and heat of the stages go with what the card knows of rates and heat."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from formsim.case.card import MaterialCard
from formsim.case.stage import Formed, Stage
from formsim.errors import Fault


def rate_faults(
    card: MaterialCard, stages: Sequence[Stage | None], made: Sequence[Stage] = ()
) -> Iterator[Fault]:
    """Stages without the speed a rate law needs, and keys that would do nothing.

    Parameters
    ----------
    stages : None stands for a faulty stage
    made : stages before these ones
    """
    for index, stage in enumerate(stages):
        if not isinstance(stage, Formed):
            continue
        key = f"stage[{index}]"
        if card.strain_rate is not None and stage.speed is None:
            yield Fault(
                f"{key}.speed",
                "",
                "is missing; the strain_rate of the material needs the speed of the tools, such as"
                ' speed = "200 mm/s"; or leave strain_rate out of the material',
            )
        if card.strain_rate is None and stage.speed is not None:
            yield Fault(
                f"{key}.speed",
                f"{stage.speed:g}",
                "would do nothing: the material has no strain_rate law; give it one, or leave speed"
                " out (times beside the solution come from [press])",
            )
        if stage.warm and (card.heating is None or not (index or made)):
            why = "the material has no heating" if card.heating is None else "no stage is before it"
            yield Fault(f"{key}.warm", "true", f"would do nothing: {why}; leave warm out")
