"""Every figure of a case."""

from stripdown.figures import bars, chain, lesson, machine, readings, resistances

EVERY = (
    bars.first_mechanisms,
    bars.evidence,
    readings.against_limits,
    resistances.resistances,
    chain.chain,
    machine.machine,
    lesson.chain_on_machine,
)
