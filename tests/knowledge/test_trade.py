"""What the trade says of a teardown must come out of the knowledge.

The direction of each check is from the trade, named beside it: common practice, no source, unless another is named.
"""

from functools import cache

import numpy as np
import pytest

from stripdown import knowledge
from stripdown.reasoning.costs import default_costs
from stripdown.reasoning.infer import Asked, posterior_of
from stripdown.reasoning.model import Evidence, Finding
from stripdown.reasoning.network import context_of
from stripdown.reasoning.reason import CORRECTED_FROM, Reasoner

SHIPPED = knowledge.load()


@cache
def reasoner() -> Reasoner:
    return Reasoner(SHIPPED, default_costs())


def judged(seen: str = "", sound: str = "", **context: str) -> Finding:
    """The answer where these findings were seen at their highest level and those were looked at and sound."""
    likelihoods = {f: np.eye(len(SHIPPED.findings[f].levels) + 1)[-1] for f in seen.split()}
    likelihoods |= {f: np.eye(len(SHIPPED.findings[f].levels) + 1)[0] for f in sound.split()}
    known = Evidence(likelihoods, {f: f for f in likelihoods}, frozenset(seen.split()), frozenset())
    return reasoner().judge(context_of(**context), known, ())


def share(found: Finding, what: str, of: str) -> float:
    return float(next(s.probability or 0.0 for s in getattr(found, what) if s.id == of))


def odds(found: Finding, one: str, other: str) -> float:
    return share(found, "first", one) / share(found, "first", other)


def corrected(found: Finding) -> str:
    return " ".join(c.text for c in found.corrections)


NO_OIL = "rod_bearings.worn_uniform crankshaft.heat_tinted net_oil_pressure.low"
OIL_THERE = "oil.low oil.thin_diluted valve_plate.discoloured_fixed"


# Whose it is: "never opened" speaks of the inside of the machine alone.


def test_dirt_of_the_pipes_that_shuts_the_oil_way_is_no_fault_of_the_works():
    """Scale and drier grains in the strainer, pipework shortly before: system dirt, installation."""
    dirt = "oil_pickup.blocked oil_screen.blocked suction_strainer.metal_debris oil_pump.gouged crankshaft.fine_lines"
    found = judged(f"{NO_OIL} {dirt}", OIL_THERE, opened_before="never", hours="0-500")
    assert found.first[0].id in ("oil_feed_fault", "debris_wear")
    assert found.causes[0].id == "system_dirt"
    assert found.liability[0].id == "installation"
    assert "suction_strainer.metal_debris" not in found.unexplained


def test_earliness_alone_never_makes_it_the_works():
    """Early failures split between installation, wrong start-up and the works."""
    found = judged(NO_OIL, OIL_THERE, opened_before="never", hours="0-500")
    assert share(found, "liability", "works") < 0.6


@pytest.mark.parametrize("nut", ["terminal_nuts.loose", "terminal_nuts.overtightened"])
def test_a_part_that_the_installer_fits_is_not_the_works_although_the_machine_was_never_opened(nut: str):
    """Nuts on joints that are made on the site: installation."""
    burnt = "terminal_plate.burnt insulation_resistance.terminals"
    found = judged(f"{nut} {burnt}", "insulation_resistance.leads winding_resistance.leads", opened_before="never")
    assert found.first[0].id in ("terminal_fault", "assembly_fault")
    assert share(found, "causes", "fitting_workmanship") > share(found, "causes", "works_workmanship")
    assert share(found, "liability", "installation") > 2.0 * share(found, "liability", "works")


@pytest.mark.parametrize("inside", ["cover_gasket.reversed", "oil_pickup.misfitted"])
def test_what_is_wrong_inside_is_the_works_where_never_opened_and_the_last_hand_where_opened(inside: str):
    never = judged(f"{NO_OIL} {inside}", OIL_THERE, opened_before="never", hours="0-500")
    opened = judged(f"{NO_OIL} {inside}", OIL_THERE, opened_before="workshop", hours="0-500")
    assert never.first[0].id == opened.first[0].id == "assembly_fault"
    assert (never.liability[0].id, opened.liability[0].id) == ("works", "installation")
    assert share(never, "causes", "fitting_workmanship") < CORRECTED_FROM


def test_a_burn_that_was_not_cleaned_up_needs_an_earlier_machine():
    """A drier left in on a first system tells of water and dirt, hardly of an old burn."""
    seen = "filter_drier.not_renewed suction_strainer.metal_debris crankshaft.fine_lines motor_chamber.metal_debris"
    first, second = judged(seen), judged(seen, replaced="yes")
    assert share(first, "causes", "burnout_not_cleaned") < CORRECTED_FROM
    assert share(second, "causes", "burnout_not_cleaned") > share(first, "causes", "burnout_not_cleaned")


# What to put right


@pytest.mark.parametrize(
    ("seen", "leads"),
    [
        ("oil.low rod_bearings.worn_uniform crankshaft.heat_tinted oil_return.level_control_failed", "oil_starvation"),
        ("valve_plate.discoloured_fixed discharge_valve.coked piston_rings.worn", "overheating"),
        ("stator.burnt_all_phases supply_voltage.low", "motor_overload"),
        ("stator.burnt_two_phases supply.phase_lost", "single_phasing"),
        ("rod_bearings.worn_progressive main_bearing.worn oil.thin_diluted", "floodback"),
        ("rod_bearings.worn_random crankcase_heater.open_circuit", "flooded_start"),
        ("valve_backer.broken backer_bolts.stretched", "liquid_slug"),
    ],
)
def test_a_bridged_protection_is_put_right_whatever_began_the_damage(seen: str, leads: str):
    """It feeds overload and any seizure; no running until it is restored."""
    found = judged(f"{seen} protection.bypassed", motor="star")
    assert found.first[0].id == leads
    assert "Restore the protection" in corrected(found)
    assert "Restore the protection" not in corrected(judged(seen, "protection.bypassed", motor="star"))


def test_a_stuck_oil_check_valve_is_renewed():
    seen = "oil.low motor_chamber.oil_logged oil_check_valve.stuck_closed rod_bearings.worn_uniform"
    assert "check valve" in corrected(judged(seen, "oil_return.separator_failed"))
    assert "Renew the oil check valve" not in corrected(judged("oil.low rod_bearings.worn_uniform"))


@pytest.mark.parametrize(
    ("seen", "sound", "clean_up"),
    [
        ("stator.burnt_all_phases motor_chamber.soot", "rod_bearings.worn_uniform", True),
        ("stator.rubbed stator.burnt_spot insulation_resistance.leads", "", True),
        ("stator.clean_break insulation_resistance.leads", "motor_chamber.soot", False),
        ("insulation_resistance.terminals", "terminal_box.water", False),
        ("oil.low rod_bearings.worn_uniform crank.will_not_turn", "", False),
    ],
)
def test_the_system_is_cleaned_up_after_a_burn_and_not_after_a_puncture_or_an_earth(
    seen: str, sound: str, clean_up: bool
):
    assert ("Clean the system up after the burn" in corrected(judged(seen, sound))) is clean_up


def test_a_contributor_that_nothing_points_to_is_not_put_right():
    """Low voltage seen: undercharge, short cycling and low load would only add to it."""
    text = corrected(judged("stator.burnt_all_phases supply_voltage.low", motor="star"))
    for cause in ("undercharge", "short_cycling", "low_load", "switchgear_fault"):
        assert SHIPPED.causes[cause].correction not in text


# What speaks for and against


PUMP = "oil_pump.worn net_oil_pressure.low"
OTHER_WAYS = "oil_pump.drive_broken oil_pickup.blocked oil_screen.blocked oil_gallery.blocked cover_gasket.reversed"


def test_the_other_ways_found_sound_do_not_clear_a_worn_pump():
    """One way to lose the feed is enough: the rest is sound as a rule."""
    before, after = judged(PUMP, OIL_THERE), judged(PUMP, f"{OIL_THERE} {OTHER_WAYS}")
    assert after.first[0].id == "oil_feed_fault"
    assert odds(after, "oil_feed_fault", "floodback") > 0.3 * odds(before, "oil_feed_fault", "floodback")
    nothing_worn = judged(NO_OIL, f"{OIL_THERE} {OTHER_WAYS} oil_pump.worn oil_pump.gouged")
    assert share(nothing_worn, "first", "oil_feed_fault") < share(judged(NO_OIL, OIL_THERE), "first", "oil_feed_fault")


def test_a_pump_wears_with_years():
    young, old = (judged(PUMP, OIL_THERE, hours=h) for h in ("500-5000", "20000-40000"))
    assert share(old, "causes", "age") > 0.25 > share(young, "causes", "age")


@pytest.mark.parametrize("mechanism", ["motor_overload", "single_phasing", "half_winding", "surge"])
def test_sound_windings_at_the_leads_speak_strongly_against_an_electrical_failure(mechanism: str):
    good = "winding_resistance.leads insulation_resistance.leads"
    before, after = judged(motor="part_winding"), judged("", good, motor="part_winding")
    assert odds(after, mechanism, "valve_fatigue") < 0.2 * odds(before, mechanism, "valve_fatigue")


@pytest.mark.parametrize("mechanism", SHIPPED.mechanisms)
def test_a_bridged_protection_found_is_reason_enough_to_put_it_right_under_any_mechanism(mechanism: str):
    """Whatever failed, no running until the protection is restored."""
    context = context_of(motor="part_winding")
    network = reasoner().network(context)
    known = np.eye(len(SHIPPED.mechanisms))[network.first_index[mechanism]]
    bridged = {"protection.bypassed": np.array([[0.0], [1.0]])}
    found = posterior_of([Asked(network, bridged, {0: known})])
    assert float(found.causes["protection_defeated"][0]) >= CORRECTED_FROM


# What an open winding, and a machine that pumps, say


@pytest.mark.parametrize("motor", ["single_phase", "star", "unknown"])
def test_a_winding_open_at_its_leads_is_a_failed_winding_although_the_insulation_is_good(motor: str):
    """Winding open = bad; insulation over range = good: the two go together. The first mechanism stays open."""
    found = judged("winding_resistance.leads", "insulation_resistance.leads crank.will_not_turn", motor=motor)
    assert found.status in ("open", "likely")
    assert not found.unexplained
    electrical = ("motor_overload", "surge", "single_phasing", "voltage_unbalance", "half_winding", "part_defect")
    before = judged("", "insulation_resistance.leads crank.will_not_turn", motor=motor)
    assert sum(share(found, "first", m) for m in electrical) > 4.0 * sum(share(before, "first", m) for m in electrical)
    if motor == "single_phase":
        assert share(found, "first", "single_phasing") == 0.0
        assert found.first[0].id == "motor_overload"


def test_a_large_difference_between_pairs_says_less_than_an_open_winding():
    """Concentric windings may differ by design; an open one may not."""
    open_winding = judged("winding_resistance.leads", "insulation_resistance.leads")
    likelihoods = {"winding_resistance.leads": np.array([0.0, 1.0, 0.0]), "insulation_resistance.leads": np.eye(2)[0]}
    known = Evidence(likelihoods, {f: f for f in likelihoods}, frozenset({"winding_resistance.leads"}), frozenset())
    uneven = reasoner().judge(context_of(), known, ())
    assert share(open_winding, "first", "motor_overload") > share(uneven, "first", "motor_overload")


HOLDS = "vacuum_pull_down.poor leak_back_rate.high"


@pytest.mark.parametrize("broken", ["discharge_valve.broken", "head_gasket.blown", "relief_valve.leaking"])
def test_a_machine_that_pulls_down_and_holds_has_no_valve_or_gasket_broken_through(broken: str):
    """Internal leak, against: pumps down and holds (strong)."""
    assert judged(broken, HOLDS).status == "conflicting"
    assert judged(broken, "vacuum_pull_down.poor").status != "conflicting"
    assert judged(f"{broken} {HOLDS}").status != "conflicting"


@pytest.mark.parametrize("elsewhere", ["suction_reed.bent", "piston.holed", "valve_plate.scored"])
def test_one_cylinder_of_many_may_be_spoilt_and_the_others_pull_down(elsewhere: str):
    assert judged(elsewhere, HOLDS).status != "conflicting"


# What a part alone cures


RELIEF = "relief_valve.lifted relief_valve.leaking leak_back_rate.high"
GEAR_SOUND = "head_gasket.blown valve_plate.cracked suction_reed.broken discharge_valve.broken valve_backer.loose"
BELOW_SOUND = "piston.holed wrist_pin.drops rod_bearings.worn_uniform main_bearing.worn insulation_resistance.terminals"


@pytest.mark.parametrize("colour", ["", "valve_plate.discoloured_fixed", "valve_plate.dark_film_wipes_off"])
def test_a_relief_valve_is_not_cured_with_a_valve_plate(colour: str):
    """Relief valve only, and the over-pressure that lifted it found: the relief valve."""
    sound = f"{GEAR_SOUND} {BELOW_SOUND} motor_chamber.metal_debris"
    found = judged(f"{RELIEF} condenser.fan_failed {colour}", sound)
    assert found.first[0].id == "internal_leak"
    assert found.outcome.id == "replace_relief_valve"
    assert "replace_valve_plate" not in [o.id for o in found.outcome.alternatives]


def test_a_film_that_wipes_off_bars_no_repair_of_a_sensor():
    """The dark film is oil and wear dust, no damage of the valve plate."""
    seen = "motor_sensor.lead_broken sensor_resistance.bad"
    good = "insulation_resistance.terminals winding_resistance.terminals stator.burnt_spot"
    assert judged(f"{seen} valve_plate.dark_film_wipes_off", good).outcome.id == "replace_sensor"


# What was looked at and found good, and what else a failure shows


def test_unpitted_contacts_clear_the_switchgear_of_an_unbalance():
    """Switchgear: pitted pole, drop per pole; the same thing checked and sound clears it."""
    burnt = "stator.burnt_one_phase supply_unbalance.high current_unbalance.high"
    assert share(judged(burnt, "contactor.pitted"), "causes", "switchgear_fault") < CORRECTED_FROM
    assert share(judged(f"{burnt} contactor.pitted"), "causes", "switchgear_fault") > 0.5


def test_a_ratio_read_within_its_limit_clears_the_ratio():
    """Compression ratio too high: absolute ratio above 10."""
    hot = "valve_plate.discoloured_fixed discharge_valve.coked discharge_line_temperature.high condenser.fouled"
    assert share(judged(hot, "compression_ratio.high"), "causes", "compression_ratio_high") < CORRECTED_FROM


def test_foaming_starts_leave_the_sump_low_and_that_is_explained():
    """Repeated foaming also pumps oil out: a low sump with random wear is still a flooded start."""
    found = judged(
        "oil.low oil.foaming rod_bearings.worn_random crankshaft.scored_random crankcase_heater.open_circuit"
    )
    assert found.first[0].id == "flooded_start"
    assert not found.unexplained


def test_a_start_on_half_the_winding_counts_as_a_locked_rotor():
    """One half does all the starting: seconds to minutes a try."""
    seen = "stator.burnt_one_winding start_timer.faulty alarms.locked_rotor"
    found = judged(seen, "crank.will_not_turn", motor="part_winding")
    assert found.first[0].id == "half_winding"
    assert "alarms.locked_rotor" not in found.unexplained


def test_a_leak_at_the_terminals_loses_the_charge():
    """Any leak to the outside: charge under, oil low."""
    found = judged("terminal_plate.leaking terminal_plate.cracked terminal_nuts.overtightened charge.under")
    assert "charge.under" not in found.unexplained


def test_a_sound_machine_that_a_fouled_condenser_tripped_is_sound_and_the_condenser_is_cleaned():
    """No fault: the unit is sound, a control, the charge or the site was the fault."""
    cold = "valve_plate.discoloured_fixed discharge_valve.coked piston_rings.worn oil.low"
    sound = f"{GEAR_SOUND} {BELOW_SOUND} {HOLDS} {cold} winding_resistance.terminals sensor_resistance.bad"
    found = judged("condenser.fouled alarms.discharge_heat", f"{sound} crank.will_not_turn pumping.does_not_pump")
    assert found.first[0].id == "no_fault"
    assert found.liability[0].id == "no_fault_found"
    assert SHIPPED.causes["condensing_high"].correction in corrected(found)
    clean = judged("", f"{sound} crank.will_not_turn pumping.does_not_pump")
    assert SHIPPED.causes["condensing_high"].correction not in corrected(clean)


# Whose a part inside, a forgotten cloth and a blow from outside are


def test_a_sensor_lead_broken_inside_a_machine_never_opened_is_not_laid_to_the_site():
    """Never opened: the inside is the works' or age; early or late alone decides neither."""
    seen = "motor_sensor.lead_broken sensor_resistance.bad"
    good = "insulation_resistance.terminals winding_resistance.terminals stator.burnt_spot"
    never, opened = (judged(seen, good, opened_before=x, hours="5000-20000") for x in ("never", "site"))
    assert never.first[0].id == opened.first[0].id == "sensor_fault"
    assert share(never, "liability", "installation") < 0.6
    assert share(never, "causes", "works_material") > share(opened, "causes", "works_material")
    assert share(never, "causes", "fitting_workmanship") < share(opened, "causes", "fitting_workmanship")


WAYS_FREE = "oil_pickup.blocked oil_screen.blocked oil_gallery.blocked oil_pump.gouged"


def test_a_pump_drive_that_breaks_after_years_is_age_and_early_is_material():
    """Lost feed: works material .15, age .15; early a soft part, late an old one; dirt breaks no drive."""
    young, old = (
        judged(f"{NO_OIL} oil_pump.drive_broken", f"{OIL_THERE} {WAYS_FREE}", opened_before="never", hours=h)
        for h in ("500-5000", "20000-40000")
    )
    assert share(young, "causes", "works_material") > 0.25 > share(young, "causes", "age")
    assert "Plan the replacement of machines of that age" in corrected(old)
    assert old.liability[0].id != "installation"
    assert share(old, "causes", "age") > share(old, "causes", "system_dirt")


def test_what_plugs_a_pick_up_after_a_workshop_opened_it_is_the_workshops_unless_grains_came_with_the_gas():
    """System dirt: swarf, scale or drier grains in the strainer; else ask who opened it last."""
    plugged = f"{NO_OIL} oil_pickup.blocked"
    clean = judged(plugged, f"{OIL_THERE} suction_strainer.metal_debris", opened_before="workshop", hours="0-500")
    assert clean.causes[0].id == "fitting_workmanship"
    grains = judged(f"{plugged} suction_strainer.metal_debris", OIL_THERE, opened_before="workshop", hours="0-500")
    assert share(grains, "causes", "system_dirt") > share(clean, "causes", "system_dirt")
    assert grains.liability[0].id == clean.liability[0].id == "installation"


def test_a_body_cracked_at_the_terminals_in_the_first_hours_was_struck():
    """Handling: body cracked, struck from outside (odds times 12); a machine that ran for years arrived sound."""
    broken = "body.cracked terminal_plate.cracked insulation_resistance.terminals"
    good = "insulation_resistance.leads winding_resistance.leads terminal_nuts.loose terminal_nuts.overtightened"
    inside = "motor_leads.chafed valve_backer.loose suction_reed.broken rod_bearings.worn_random"
    new = judged(broken, f"{good} {inside}", hours="0-500", opened_before="never")
    assert new.causes[0].id == new.liability[0].id == "handling"
    without = judged("terminal_plate.cracked insulation_resistance.terminals", f"{good} {inside}", hours="0-500")
    assert share(without, "causes", "handling") < share(new, "causes", "handling") / 3.0
    old = judged(broken, f"{good} {inside}", hours="20000-40000", opened_before="never")
    assert share(old, "causes", "handling") < share(new, "causes", "handling")


# What lies between the first mechanism and the end


PLATED = "crankshaft.copper_plated main_bearing.copper_plated oil.acid_smell cleanup.not_done_after_burnout"


def test_plated_bearings_wear_without_a_lost_feed():
    """Acid: plating on journals, tight bearings, then insulation breakdown; a shut feed trips on oil and tints."""
    worn = f"{PLATED} rod_bearings.worn_uniform stator.burnt_spot insulation_resistance.leads"
    found = judged(worn, "crankshaft.heat_tinted pump_end_bearing.worn oil.low oil_screen.blocked", replaced="yes")
    assert found.first[0].id == "acid_attack"
    assert share(found, "mechanisms", "oil_feed_fault") < 0.5
    assert "rod_bearings.worn_uniform" not in found.unexplained
    shut = judged(f"{worn} oil.sludge oil_screen.blocked net_oil_pressure.low alarms.oil crankshaft.heat_tinted")
    assert share(shut, "mechanisms", "oil_feed_fault") > 0.9


def test_a_drier_left_in_after_a_burn_tells_of_the_burn_too():
    """Clean-up not done, earlier burn, drier not renewed: acid of the burn (with ~); moisture needs more."""
    burn = f"{PLATED} history.earlier_burn"
    with_drier, without = judged(f"{burn} filter_drier.not_renewed", replaced="yes"), judged(burn, replaced="yes")
    alone = judged("crankshaft.copper_plated filter_drier.not_renewed")
    assert share(with_drier, "causes", "moisture_ingress") < share(alone, "causes", "moisture_ingress")
    assert with_drier.liability[0].id == without.liability[0].id == "system"


def test_the_edge_of_a_broken_reed_is_proposed_where_slug_and_fatigue_are_open():
    """Fatigue: origin at an edge, the lens note is asked for; the backer and its bolts decide beside it."""
    found = judged(
        "suction_reed.broken leak_back_rate.high cylinders.one_or_two_of_many", "valve_plate.discoloured_fixed"
    )
    assert found.status == "open"
    proposed = [c.id for c in found.next_checks]
    assert {"suction_reed.edge_origin", "valve_backer.loose"} <= set(proposed)
    seen = judged("suction_reed.broken suction_reed.edge_origin leak_back_rate.high", "valve_backer.loose")
    assert seen.first[0].id == "valve_fatigue"


def test_a_gasket_burnt_through_after_a_head_was_off_is_laid_to_who_had_it_off():
    """Internal leak: slack head bolts, opened before: installation, be the condenser a little fouled or not."""
    seen = "head_gasket.blown head_gasket.carbon_track head_bolts.loose leak_back_rate.high"
    opened = judged(seen, "suction_reed.broken valve_backer.loose", opened_before="site", hours="20000-40000")
    assert opened.first[0].id == "internal_leak"
    assert opened.causes[0].id == "fitting_workmanship"
    assert opened.liability[0].id == "installation"
    never = judged(seen, "suction_reed.broken valve_backer.loose", opened_before="never", hours="20000-40000")
    assert share(never, "causes", "fitting_workmanship") < share(opened, "causes", "fitting_workmanship")


def test_foam_a_dead_heater_and_a_broken_rod_do_not_part_a_flooded_start_from_a_slug():
    """Flooded start leads to a slug in the same start, by the same causes; the wear and the valve gear part them."""
    start = "oil.foaming crankcase_heater.not_powered connecting_rod.broken"
    little = judged(start)
    assert little.status != "established"
    assert {m.id for m in little.first[:2]} == {"flooded_start", "liquid_slug"}
    assert little.causes[0].id == "heater_off"
    worn = judged(
        f"{start} rod_bearings.worn_random crankshaft.scored_random", "valve_backer.loose suction_reed.broken"
    )
    assert (worn.first[0].id, worn.status) == ("flooded_start", "established")
    struck = judged(f"{start} valve_backer.broken backer_bolts.stretched", "rod_bearings.worn_random oil.low")
    assert struck.first[0].id == "liquid_slug"
