"""What disturbs a reading: said beside every one that is not clearly within its limits. Common practice, no source."""

from dataclasses import replace

from stripdown.limits.model import Judged

_PLAY = "end float, a bar that bends, an oil film"
_PRESSURE = "line loss, the gauge's zero, altitude"
_DISTURBED = {
    "winding_resistance": "resistance of the leads, a warm motor, links left on",
    "insulation_resistance": "refrigerant in the oil, damp, dirt on the plate",
    "supply_voltage": "drop along the cable, no load, one meter moved about",
    "running_current": "unloading, a jaw not shut, an inverter",
    "sensor_resistance": "a motor still hot, the meter's own voltage",
    "heater_resistance": "a parallel circuit, a self-regulating heater",
    "contact_voltage_drop": "unequal current, poor contact of the probes",
    "oil_pump_pressure": "foam, cold oil (reads high), the wrong reference port",
    "net_oil_pressure": "which two ports it compares, its zero",
    "oil_acid_number": "a kit for another oil, additives, an old sample",
    "oil_moisture": "air: ester oil takes up water in minutes",
    "suction_pressure": _PRESSURE,
    "discharge_pressure": _PRESSURE,
    "suction_gas_temperature": "the air around the probe, oil in the line",
    "superheat": "glide (it counts from the dew line), contact of the probe, altitude",
    "subcooling": "glide (it counts from the bubble line), flash gas",
    "evaporator_outlet_temperature": "a loose bulb",
    "discharge_line_temperature": "a fan, distance from the valve",
    "oil_sump_temperature": "the spot that the heater warms",
    "main_bearing_play": _PLAY,
    "centre_bearing_play": _PLAY,
    "pump_end_bearing_play": _PLAY,
    "rod_play": "play of the wrist pin",
    "rotor_air_gap": "varnish runs, a shaft not at rest, a magnet's pull: read again after half a turn",
    "vacuum_pull_down": "an unloader, hot oil boiling, cold oil",
    "leak_back_rate": "the first half minute, new reeds, gas from the oil (a false leak), a leaking valve seat",
    "evacuation_vacuum": "a gauge at the pump, damp, gas from the oil",
    "starts_per_hour": "an average over the day hides bursts",
}


def with_disturbances(judged: Judged) -> Judged:
    """The reading, and where it is open or outside what may have disturbed it."""
    said = _DISTURBED.get(judged.quantity)
    if said is None or judged.judged is None or judged.verdict not in ("open", "outside"):
        return judged
    remark = " ".join(t for t in (judged.remark, f"What disturbs it: {said}.") if t)
    return replace(judged, remark=remark)
