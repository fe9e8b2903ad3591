/* Every struct that a script can fill in, as a list of its fields (see spec.h for the columns).
 *
 * To add a parameter, add one line here and use it: the struct, the reader, the messages, the
 * change by path, `steading help` and the manual follow. */
#ifndef STEADING_SITE_FIELDS_H
#define STEADING_SITE_FIELDS_H

#include <math.h>

#include "site/spec.h"

/* The words of a hub's surplus_order. Nothing has hot_water or vehicle yet: an order may name them,
 * as it may name water on a site without water. */
enum {
  STEADING_SURPLUS_WATER,
  STEADING_SURPLUS_HOT_WATER,
  STEADING_SURPLUS_BATTERY,
  STEADING_SURPLUS_VEHICLE,
  STEADING_SURPLUS_EXPORT,
  STEADING_SURPLUS_KINDS
};
extern const char *const steading_surplus_kinds[];

/* Choices that code asks for, in the order of their words. */
enum { STEADING_WITH_GRID_ADDS, STEADING_WITH_GRID_TRANSFERS };
/* Classes of loads, in the order of their words; all before the essential one can be shed. */
enum {
  STEADING_CLASS_ORDINARY,
  STEADING_CLASS_DEFERRABLE,
  STEADING_CLASS_SHEDDABLE,
  STEADING_SHED_CLASSES,
  STEADING_CLASS_ESSENTIAL = STEADING_SHED_CLASSES,
  STEADING_CLASSES
};
enum { STEADING_BATTERY_USE_DAILY, STEADING_BATTERY_USE_OUTAGES };
enum { STEADING_KEEP_ANNUAL, STEADING_KEEP_MONTHLY, STEADING_KEEP_STEPS };

#define STEADING_LATER(F, T, name, doc) \
  F(T, later, name, "", optional, 0, 0, 0, energy, none, doc)

/* --- bought things ----------------------------------------------------------------------------- */

#define STEADING_LOT(F, T)                                                                         \
  F(T, count, count, "", standard, 0, 1e6, 1, energy, none, "how many pieces")                     \
  F(T, date, in_service, "", optional, 0, 0, 0, energy, none,                                      \
    "date from which they work; absent: from the start of the run")                               \
  F(T, number, price_each, "money", optional, 0, 1e9, 0, money, none, "price of one piece")        \
  F(T, number, price_lot, "money", optional, 0, 1e12, 0, money, none, "price of the whole lot")    \
  F(T, refused, price, "", optional, 0, 0, 0, money, none,                                         \
    "for each piece or for the whole lot? write price_each or price_lot")                         \
  F(T, number, life_years, "years", optional, 0.5, 200, 0, energy, none,                           \
    "bought again after this time; absent: never, but for a battery by its ageing")               \
  F(T, number, replacement_price_each, "money", optional, 0, 1e9, 0, money, none,                  \
    "price of one piece when it is bought again, at today's prices; absent: the first price")     \
  F(T, number, price_trend_per_year, "share", optional, -0.5, 1, 0, money, none,                   \
    "yearly change of the replacement price, real or nominal as money.prices; absent: 0 real, "   \
    "the inflation nominal")                                                                      \
  F(T, number, labour_share, "share", optional, 0, 5, 0, money, none,                              \
    "labour as a share of the price; absent: money.hired_labour")                                 \
  F(T, number, labour_price, "money", optional, 0, 1e12, 0, money, none, "labour of the whole lot") \
  F(T, number, salvage_share, "share", standard, 0, 1, 0, money, none,                             \
    "share of the last price paid that is left at the end of the horizon")                        \
  F(T, date, retired, "", optional, 0, 0, 0, energy, none,                                         \
    "date from which they are gone; absent: they stay")                                           \
  F(T, number, delivered_charge, "share", standard, 0, 1, 0.3, energy, none,                       \
    "charge with which battery modules arrive during the run (default: common practice, no source)")
STEADING_STRUCT(lot, STEADING_LOT)

#define STEADING_WORKS(F, T)                                                                       \
  F(T, text, name, "", required, 0, 0, 0, money, none, "what it is")                               \
  F(T, date, date, "", optional, 0, 0, 0, money, none, "when; absent: at the start of the run")    \
  F(T, number, price, "money", required, 0, 1e12, 0, money, none, "price of the parts")            \
  F(T, number, labour_price, "money", optional, 0, 1e12, 0, money, none, "price of the labour")    \
  F(T, number, labour_share, "share", optional, 0, 5, 0, money, none,                              \
    "labour as a share of the price; absent: money.hired_labour")                                 \
  F(T, number, life_years, "years", optional, 0.5, 200, 0, money, none,                            \
    "bought again after this time; absent: never")
STEADING_STRUCT(works, STEADING_WORKS)

/* --- plant ------------------------------------------------------------------------------------- */

#define STEADING_EFFICIENCY_POINT(F, T)                                                            \
  F(T, number, ac_share, "share", optional, 0.001, 1, 0, energy, none,                             \
    "AC power as a share of ac_kw; or ac_kw")                                                      \
  F(T, number, ac_kw, "kW", optional, 0.0001, 1e4, 0, energy, none, "AC power; or ac_share")       \
  F(T, number, volts, "V", optional, 1, 2000, 0, energy, none,                                     \
    "DC voltage; absent in all points: the curve is that of any voltage")                          \
  F(T, number, efficiency, "share", required, 0.1, 1, 0, energy, none,                             \
    "AC power over DC power there, idle draw included")
STEADING_STRUCT(efficiency_point, STEADING_EFFICIENCY_POINT)

#define STEADING_EFFICIENCY(F, T)                                                                  \
  F(T, list, points, "", optional, 0, 0, 0, energy, efficiency_point,                              \
    "measured points, at one or several DC voltages; instead of the three below")                  \
  F(T, number, at_10, "share", optional, 0.3, 1, 0, energy, none,                                  \
    "efficiency at 10 % of ac_kw, idle draw included")                                             \
  F(T, number, at_50, "share", optional, 0.3, 1, 0, energy, none, "efficiency at 50 % of ac_kw")   \
  F(T, number, at_100, "share", optional, 0.3, 1, 0, energy, none, "efficiency at ac_kw")
STEADING_STRUCT(efficiency, STEADING_EFFICIENCY)

#define STEADING_UNIT_LOSSES(F, T)                                                                 \
  F(T, number, idle_w, "W", optional, 0, 1e5, 0, energy, none,                                     \
    "draw of a unit that is on and carries nothing; or idle_share")                                \
  F(T, number, idle_share, "share", optional, 0, 0.5, 0, energy, none,                             \
    "that draw as a share of ac_kw: p0 of Schmid 1983; or idle_w")                                 \
  F(T, number, share_of_power, "share", standard, -0.5, 0.5, 0, energy, none,                      \
    "loss that is proportional to AC power, as a share of it")                                     \
  F(T, number, share_at_rating, "share", standard, -0.5, 0.5, 0, energy, none,                     \
    "loss that grows with the square of AC power, as a share of ac_kw at ac_kw: k of Schmid 1983")
STEADING_STRUCT(unit_losses, STEADING_UNIT_LOSSES)

#define STEADING_DERATE_POINT(F, T)                                                                \
  F(T, number, temp_c, "C", required, -60, 120, 0, energy, none, "air temperature around the unit")\
  F(T, number, share, "share", required, 0, 1, 0, energy, none, "what is left of ac_kw there")
STEADING_STRUCT(derate_point, STEADING_DERATE_POINT)
#define STEADING_UNIT_INPUT(F, T)                                                                  \
  F(T, pair, window_v, "V", required, 0, 2000, 0, energy, none,                                    \
    "lowest and highest voltage at which it tracks")                                              \
  F(T, number, most_v, "V", optional, 1, 2000, 0, energy, none,                                    \
    "voltage it must never see, not even open; the run warns above it")                           \
  F(T, number, most_a, "A", standard, 0.01, 1e5, INFINITY, energy, none,                           \
    "most current it takes; absent: no limit")                                                    \
  F(T, number, most_kw, "kW", standard, 0.001, 1e5, INFINITY, energy, none,                        \
    "most power it takes; absent: no limit")
STEADING_STRUCT(unit_input, STEADING_UNIT_INPUT)

#define STEADING_UNIT(F, T)                                                                        \
  F(T, number, ac_kw, "kW", required, 0.01, 1e4, 0, energy, none, "continuous AC power of a unit") \
  F(T, number, islanded_kw, "kW", optional, 0.01, 1e4, 0, energy, none,                            \
    "most AC power of a unit while the grid is down or the hub has no meter; absent: ac_kw")      \
  F(T, number, idle_w, "W", optional, 0, 1e5, 0, energy, none,                                     \
    "draw of a unit that is on and carries nothing; absent: from the efficiency curve")           \
  F(T, number, night_w, "W", optional, 0, 1e5, 0, energy, none,                                    \
    "draw of a unit without sun that carries nothing; absent: as with sun")                        \
  F(T, listed, efficiency, "", optional, 0, 0, 0, energy, efficiency,                              \
    "the efficiency curve: at_10, at_50 and at_100, or a list of points; or losses")               \
  F(T, record, losses, "", optional, 0, 0, 0, energy, unit_losses, "what it loses; or efficiency")      \
  F(T, number, dc_v, "V", optional, 1, 2000, 0, energy, none,                                      \
    "DC voltage at which it works, within those of efficiency; absent: that of the hub's strings, "\
    "else the middle one")                                                                         \
  F(T, list, derate, "", optional, 0, 1, 0, energy, derate_point,                                  \
    "what is left of ac_kw and of charge_from_grid_kw in hot air; absent: all of it")              \
  F(T, number, pass_through_kw, "kW", standard, 0.001, 1e5, INFINITY, energy, none,                    \
    "most that a unit passes on from the grid to its loads; absent: no limit")                    \
  F(T, number, battery_kw, "kW", standard, 0, 1e5, INFINITY, energy, none,                         \
    "most that a unit takes from or gives to the battery; absent: no limit")                      \
  F(T, number, pv_kw, "kW", standard, 0, 1e5, INFINITY, energy, none,                              \
    "most that a unit takes from the arrays; absent: no limit")                                   \
  STEADING_LATER(F, T, surge_kw, "motor starts")                                                   \
  STEADING_LATER(F, T, surge_seconds, "motor starts")                                              \
  F(T, number, charge_from_grid_kw, "kW", standard, 0, 1e5, 0, energy, none,                       \
    "most AC power from which a unit charges the battery, of the grid where a rule says so and "  \
    "of AC-coupled sun; 0: it cannot")                                                            \
  F(T, number, charge_efficiency, "share", standard, 0.3, 1, 0.95, energy, none,                   \
    "of that, DC out over AC in, without the idle draw (default: common practice, no source)")     \
  F(T, map, inputs, "", optional, 0, 1, 0, energy, unit_input,                                     \
    "MPPT inputs by name; strings of arrays name them")
STEADING_STRUCT(unit, STEADING_UNIT)

extern const char *const steading_choices_with_grid[];
#define STEADING_INVERTER(F, T)                                                                    \
  F(T, record, unit, "", required, 0, 0, 0, energy, unit, "one unit; lots say how many")           \
  F(T, choice, with_grid, "", standard, 0, 0, 0, energy, with_grid,                                \
    "adds: the grid covers only what is missing; transfers: the whole load moves over to it until " \
    "rules.resume_above")                                                                         \
  F(T, list, lots, "", optional, 0, 0, 0, energy, lot, "what is bought and when")                  \
  F(T, number, import_margin_w, "W", standard, 0, 1e5, 0, energy, none,                            \
    "drawn from the meter at least, as far as loads take it, so that nothing is exported by "     \
    "mistake")                                                                                    \
  F(T, monthly, room_c, "C", optional, -60, 80, 0, energy, none,                                   \
    "air temperature where it stands, for derate; absent: outdoors")
STEADING_STRUCT(inverter, STEADING_INVERTER)

extern const char *const steading_choices_pv_model[];
#define STEADING_PV_MODULE(F, T)                                                                   \
  F(T, number, watts, "W", required, 1, 2000, 0, energy, none, "power at standard test conditions") \
  F(T, number, temp_coefficient_per_c, "1/K", required, -0.02, 0, 0, energy, none,                 \
    "change of power with cell temperature")                                                      \
  F(T, number, noct_c, "C", standard, 20, 80, 45, energy, none,                                    \
    "nominal operating cell temperature")                                                         \
  F(T, number, degradation_per_year, "share", standard, 0, 0.2, 0.005, energy, none,               \
    "loss of power a year (default: Jordan and Kurtz 2013, median)")                              \
  F(T, number, first_year_degradation, "share", optional, 0, 0.2, 0, energy, none,                 \
    "loss of power in a module's first year; absent: as in every year")                           \
  F(T, choice, model, "", standard, 0, 0, 0, energy, pv_model,                                     \
    "linear: watts and temp_coefficient_per_c; one_diode: fitted to the data sheet below")        \
  F(T, number, isc_a, "A", optional, 0.01, 100, 0, energy, none,                                   \
    "one_diode: short-circuit current at standard test conditions")                               \
  F(T, number, voc_v, "V", optional, 0.1, 500, 0, energy, none, "one_diode: open-circuit voltage") \
  F(T, number, imp_a, "A", optional, 0.01, 100, 0, energy, none,                                   \
    "one_diode: current at the maximum power point")                                              \
  F(T, number, vmp_v, "V", optional, 0.1, 500, 0, energy, none,                                    \
    "one_diode: voltage at the maximum power point")                                              \
  F(T, number, isc_a_per_c, "A/K", optional, -0.1, 0.1, 0, energy, none,                           \
    "one_diode: change of isc_a with cell temperature")                                           \
  F(T, number, voc_v_per_c, "V/K", optional, -5, 0, 0, energy, none,                               \
    "one_diode: change of voc_v with cell temperature")                                           \
  F(T, count, cells, "", optional, 1, 1000, 0, energy, none,                                       \
    "one_diode: cells in series; half of those of a module of half cells")
STEADING_STRUCT(pv_module, STEADING_PV_MODULE)

extern const char *const steading_choices_incidence[];
#define STEADING_INCIDENCE(F, T)                                                                   \
  F(T, choice, model, "", standard, 0, 0, 0, energy, incidence, "incidence modifier")              \
  F(T, number, a_r, "", optional, 0.05, 0.5, 0, energy, none,                                      \
    "martin_ruiz: angular loss coefficient (0.16 when absent)")                                   \
  F(T, number, b0, "", optional, 0, 0.3, 0, energy, none, "ashrae: coefficient (0.05 when absent)")
STEADING_STRUCT(incidence, STEADING_INCIDENCE)

extern const char *const steading_choices_cell_temperature[];
extern const char *const steading_choices_mounting[];
#define STEADING_CELL_TEMPERATURE(F, T)                                                            \
  F(T, choice, model, "", standard, 0, 0, 0, energy, cell_temperature,                             \
    "noct: Ross 1976 with the module's noct_c; faiman: Faiman 2008; king: King et al. 2004")      \
  F(T, number, u0, "W/m2K", optional, 1, 200, 0, energy, none,                                     \
    "faiman: heat lost in still air (25 when absent)")                                            \
  F(T, number, u1, "W s/m3K", optional, 0, 50, 0, energy, none,                                    \
    "faiman: more heat lost for every m/s of wind (6.84 when absent)")                            \
  F(T, choice, mounting, "", optional, 0, 0, 0, energy, mounting,                                  \
    "king: a row of his table, instead of a, b and above_back_c")                                 \
  F(T, number, a, "", optional, -10, 0, 0, energy, none, "king: exponent in still air")            \
  F(T, number, b, "s/m", optional, -1, 0, 0, energy, none, "king: exponent for every m/s of wind") \
  F(T, number, above_back_c, "K", optional, 0, 30, 0, energy, none,                                \
    "king: cell above the module's back at 1000 W/m2")                                            \
  F(T, number, wind_m_per_s, "m/s", optional, 0, 30, 0, energy, none,                              \
    "faiman, king: one wind for all the year instead of the weather's")
STEADING_STRUCT(cell_temperature, STEADING_CELL_TEMPERATURE)

#define STEADING_LOW_LIGHT(F, T)                                                                   \
  F(T, number, at_200_w_per_m2, "share", optional, 0.5, 1, 0, energy, none,                        \
    "efficiency at 200 W/m2 against that at 1000 W/m2, at 25 C; absent: 0.9233, Huld et al. 2011")
STEADING_STRUCT(low_light, STEADING_LOW_LIGHT)

#define STEADING_SKYLINE_POINT(F, T)                                                               \
  F(T, number, azimuth_deg, "deg", required, 0, 360, 0, energy, none, "clockwise from north")      \
  F(T, number, elevation_deg, "deg", required, 0, 89, 0, energy, none, "what hides the sky below")
STEADING_STRUCT(skyline_point, STEADING_SKYLINE_POINT)

#define STEADING_ARRAY_ROWS(F, T)                                                                  \
  F(T, number, pitch_m, "m", required, 0.1, 1000, 0, energy, none, "from row to row over the ground") \
  F(T, number, slant_m, "m", required, 0.1, 100, 0, energy, none,                                  \
    "of the modules of a row, from their lower to their upper edge")                              \
  F(T, count, count, "", required, 2, 10000, 0, energy, none, "how many; the first stands free")    \
  F(T, count, sections, "", standard, 0, 100, 1, energy, none,                                     \
    "equal parts across the slant that fall out as a whole when shade reaches them (default: "    \
    "common practice, no source); 0: a row loses what is shaded")
STEADING_STRUCT(array_rows, STEADING_ARRAY_ROWS)

extern const char *const steading_choices_axes[];
#define STEADING_TRACKING(F, T)                                                                    \
  F(T, choice, axes, "", standard, 0, 0, 0, energy, axes, "one or two")                            \
  F(T, number, axis_azimuth_deg, "deg", optional, 0, 360, 0, energy, none,                         \
    "one: where the axis points, clockwise from north (180 when absent)")                         \
  F(T, number, axis_tilt_deg, "deg", optional, 0, 60, 0, energy, none,                             \
    "one: how far it falls that way (0 when absent)")                                             \
  F(T, number, most_deg, "deg", optional, 0, 90, 0, energy, none,                                  \
    "one: rotation either way (60 when absent); two: tilt (90 when absent)")                      \
  F(T, flag, backtracks, "", optional, 0, 0, 0, energy, none,                                      \
    "one: turns back so far that no row shades the next; needs rows")
STEADING_STRUCT(tracking, STEADING_TRACKING)

#define STEADING_STRINGS(F, T)                                                                     \
  F(T, count, in_series, "", required, 1, 100, 0, energy, none, "modules of a string")             \
  F(T, count, in_parallel, "", optional, 1, 10000, 0, energy, none,                                \
    "strings at the most, a check of the lots; absent: as the lots say")                                                      \
  F(T, name, input, "", required, 0, 0, 0, energy, none,                                           \
    "an input of the hub's unit; of several units every one takes an equal share")
STEADING_STRUCT(strings, STEADING_STRINGS)

#define STEADING_SOILING_RATE(F, T)                                                                \
  F(T, number, per_day, "share", required, 0, 0.1, 0, energy, none, "lost more on every day without rain") \
  F(T, monthly, rain_free_days, "days", required, 0, 366, 0, energy, none,                         \
    "from one rain that cleans to the next, one number or twelve")                                \
  F(T, number, most, "share", standard, 0, 1, 1, energy, none, "loss beyond which dirt does not grow")
STEADING_STRUCT(soiling_rate, STEADING_SOILING_RATE)

/* The choices of `coupled`, in the order of their words. */
enum { STEADING_COUPLED_DC, STEADING_COUPLED_AC };
/* Efficiency of own inverters of which nothing is said (common practice, no source). */
#define STEADING_OWN_INVERTER_EFFICIENCY 0.96
#define STEADING_OWN_INVERTER(F, T)                                                                \
  F(T, number, ac_kw, "kW", optional, 0.01, 1e5, 0, energy, none,                                  \
    "most AC power of all its own inverters together; absent: no limit, and efficiencies are "    \
    "shares of the kW of modules in service")                                                     \
  F(T, listed, efficiency, "", optional, 0, 0, 0, energy, efficiency,                              \
    "as that of a unit, without volts; absent: 0.96 at any power (common practice, no source)")
STEADING_STRUCT(own_inverter, STEADING_OWN_INVERTER)

extern const char *const steading_choices_sky_model[];
extern const char *const steading_choices_coupled[];
#define STEADING_ARRAY(F, T)                                                                       \
  F(T, list, lots, "", optional, 0, 0, 0, energy, lot, "what is bought and when: modules")         \
  F(T, record, module, "", required, 0, 0, 0, energy, pv_module, "one module")                     \
  F(T, monthly, tilt_deg, "deg", optional, 0, 90, 0, energy, none,                                 \
    "from level, one number or twelve; needed unless it tracks")                                  \
  F(T, number, azimuth_deg, "deg", optional, 0, 360, 0, energy, none,                              \
    "direction it faces, clockwise from north (180 is south); needed unless it tracks")           \
  F(T, record, tracking, "", optional, 0, 0, 0, energy, tracking, "turns with the sun")            \
  F(T, record, rows, "", optional, 0, 0, 0, energy, array_rows, "rows behind each other")          \
  F(T, list, horizon, "", optional, 0, 1, 0, energy, skyline_point,                                \
    "what stands around it, points by rising azimuth with straight lines between")                \
  F(T, choice, sky_model, "", standard, 0, 0, 0, energy, sky_model, "diffuse light on the plane")  \
  F(T, monthly, albedo, "share", standard, 0, 1, 0.2, energy, none,                                \
    "reflection of the ground, one number or twelve (default: Liu and Jordan 1963)")              \
  F(T, record, incidence, "", standard, 0, 1, 0, energy, incidence,                                \
    "reflection at the glass; false: none")                                                       \
  F(T, monthly, soiling, "share", standard, 0, 1, 0.03, energy, none,                              \
    "loss by dirt, one number or twelve (default: within the range of Kimber et al. 2006)")       \
  F(T, record, soiling_rate, "", optional, 0, 0, 0, energy, soiling_rate,                          \
    "loss by dirt from the days without rain, instead of soiling")                                \
  F(T, monthly, snow, "share", standard, 0, 1, 0, energy, none,                                    \
    "loss by snow on the glass, one number or twelve")                                            \
  F(T, record, cell_temperature, "", standard, 0, 0, 0, energy, cell_temperature,                  \
    "model of the cell temperature")                                                              \
  F(T, record, low_light, "", optional, 0, 0, 0, energy, low_light,                                \
    "a linear module's lower efficiency in low light (Huld et al. 2011); false: none")            \
  F(T, record, strings, "", optional, 0, 0, 0, energy, strings,                                    \
    "how its modules are wired to an input of the unit; needs a one_diode module")                \
  F(T, number, settling_loss, "share", standard, 0, 0.5, 0, energy, none,                          \
    "loss of the first weeks in the sun")                                                         \
  F(T, number, mismatch_loss, "share", standard, 0, 0.5, 0.01, energy, none,                       \
    "unequal modules in a string (default: common practice, no source)")                          \
  F(T, number, dc_wiring_loss, "share", standard, 0, 0.5, 0.015, energy, none,                     \
    "wires up to the inverter, yearly mean (default: common practice, no source)")                \
  F(T, number, downtime_share, "share", standard, 0, 1, 0, energy, none,                           \
    "share of the time that it is out of service")                                                \
  F(T, choice, coupled, "", standard, 0, 0, 0, energy, coupled,                                    \
    "dc: before the hub's inverter; ac: through inverters of its own on the hub's AC side")       \
  F(T, record, own_inverter, "", optional, 0, 0, 0, energy, own_inverter,                          \
    "with coupled = \"ac\": the inverters of its own")
STEADING_STRUCT(array, STEADING_ARRAY)

enum { STEADING_CHEMISTRY_LFP, STEADING_CHEMISTRY_LEAD_ACID };
extern const char *const steading_choices_chemistry[];
/* What a module of a site and a battery that is asked about alone have in common. */
#define STEADING_BATTERY_POWERS(F, T)                                                              \
  F(T, number, kwh, "kWh", required, 0.01, 1e5, 0, energy, none, "nominal capacity of a module")   \
  F(T, pair, usable, "share", standard, 0, 1, 0, energy, none,                                     \
    "lowest and highest charge that its own controller allows")                                   \
  F(T, number, charge_kw, "kW", required, 0, 1e5, 0, energy, none,                                 \
    "most charging power of a module, at its terminals")                                          \
  F(T, number, discharge_kw, "kW", required, 0, 1e5, 0, energy, none,                              \
    "most discharging power of a module, at its terminals")
#define STEADING_BATTERY_EFFICIENCIES(F, T)                                                        \
  F(T, number, round_trip_efficiency, "share", optional, 0.3, 1, 0, energy, none,                  \
    "energy out over energy in; its square root each way")                                        \
  F(T, number, charge_efficiency, "share", optional, 0.3, 1, 0, energy, none, "energy stored / in") \
  F(T, number, discharge_efficiency, "share", optional, 0.3, 1, 0, energy, none,                   \
    "energy out over energy taken from the store")                                                \
  F(T, refused, efficiency, "", optional, 0, 0, 0, energy, none,                                   \
    "one way or both? write round_trip_efficiency, or charge_efficiency and discharge_efficiency")

#define STEADING_RESISTANCE(F, T)                                                                  \
  F(T, number, volts, "V", required, 1, 2000, 0, energy, none, "of the cells, at any charge")      \
  F(T, number, ohm, "ohm", required, 0, 100, 0, energy, none,                                      \
    "of all that the current flows through; its loss is ohm times the current squared")
STEADING_STRUCT(resistance_fields, STEADING_RESISTANCE)

#define STEADING_TAPER(F, T)                                                                       \
  F(T, number, above, "share", standard, 0, 0.999, 0.9, energy, none,                              \
    "charge from which the most charging power falls (default: common practice, no source)")       \
  F(T, number, at_full, "share", standard, 0.001, 1, 0.05, energy, none,                           \
    "of charge_kw that is left at full (default: common practice, no source)")
STEADING_STRUCT(taper_fields, STEADING_TAPER)

#define STEADING_CAPACITY_RATE(F, T)                                                               \
  F(T, number, hours, "h", required, 0.01, 1e4, 0, energy, none,                                   \
    "in which it is emptied at a constant current")                                               \
  F(T, number, kwh, "kWh", required, 1e-6, 1e6, 0, energy, none, "what it then gives")
STEADING_STRUCT(capacity_rate, STEADING_CAPACITY_RATE)

#define STEADING_GASSING(F, T)                                                                     \
  F(T, number, above, "share", required, 0, 0.999, 0, energy, none,                                \
    "charge from which a part of the charging current only makes gas")                            \
  F(T, number, at_full, "share", required, 0, 1, 0, energy, none, "that part at full")
STEADING_STRUCT(gassing_fields, STEADING_GASSING)

#define STEADING_BATTERY_MODULE(F, T)                                                              \
  STEADING_BATTERY_POWERS(F, T)                                                                    \
  STEADING_BATTERY_EFFICIENCIES(F, T)                                                              \
  F(T, choice, chemistry, "", standard, 0, 0, 0, energy, chemistry,                                \
    "lfp: lithium iron phosphate; lead_acid: two tanks of charge (Manwell and McGowan 1993)")      \
  F(T, number, standby_w, "W", standard, 0, 1e4, 0, energy, none,                                  \
    "draw of a module's own electronics, from its store")                                         \
  F(T, points, charge_share_at_c, "share", optional, 0, 1, 0, energy, none,                        \
    "what the room's temperature leaves of charge_kw: { { 0, 0 }, { 10, 1 } }; absent: all of it") \
  F(T, points, usable_share_at_c, "share", optional, 0, 1, 0, energy, none,                        \
    "what the room's temperature leaves of its capacity; absent: all of it")                       \
  F(T, record, resistance, "", optional, 0, 0, 0, energy, resistance_fields,                       \
    "losses of a module by resistance, instead of efficiencies; lfp")                              \
  F(T, record, taper, "", optional, 0, 0, 0, energy, taper_fields,                                 \
    "how its charging power falls near full; absent: not at all; lfp")                             \
  F(T, number, available_share, "share", optional, 0.001, 0.999, 0, energy, none,                  \
    "lead_acid: size of the tank at the terminals: c of Manwell and McGowan 1993")                 \
  F(T, number, per_h, "1/h", optional, 1e-6, 1e4, 0, energy, none,                                 \
    "lead_acid: rate at which the tanks come level: k of Manwell and McGowan 1993")                \
  F(T, list, rates, "", optional, 0, 0, 0, energy, capacity_rate,                                  \
    "lead_acid: capacities of a module's sheet instead: two, kwh being that of endlessly slow "    \
    "emptying, or three, kwh being one of them")                                                   \
  F(T, record, gassing, "", optional, 0, 0, 0, energy, gassing_fields,                             \
    "lead_acid: charge that is lost near full; absent: none")
STEADING_STRUCT(battery_module, STEADING_BATTERY_MODULE)

#define STEADING_BATTERY_ROOM(F, T)                                                                \
  F(T, temps, temp_c, "C", required, -60, 60, 0, energy, none, "of the cells")                     \
  F(T, number, heater_w, "W", optional, 0, 1e5, 0, energy, none,                                   \
    "electric heater of the room; absent: none")                                                   \
  F(T, number, heat_below_c, "C", optional, -40, 40, 0, energy, none,                              \
    "the heater runs where the room would be colder, and the cells then have this temperature")
STEADING_STRUCT(battery_room, STEADING_BATTERY_ROOM)

#define STEADING_DEPTH_POINT(F, T)                                                                 \
  F(T, number, depth, "share", required, 0.001, 1, 0, energy, none, "of a cycle, of the capacity") \
  F(T, number, cycles, "", required, 1, 1e7, 0, energy, none, "of that depth to the end of life")
STEADING_STRUCT(depth_point, STEADING_DEPTH_POINT)

enum { STEADING_AGES_NAUMANN, STEADING_AGES_WANG, STEADING_AGES_BY_DEPTH };
enum { STEADING_COUNTS_DISCHARGE, STEADING_COUNTS_BOTH_WAYS };
extern const char *const steading_choices_ageing[];
extern const char *const steading_choices_throughput[];
#define STEADING_AGEING(F, T)                                                                      \
  F(T, choice, model, "", required, 0, 0, 0, energy, ageing,                                       \
    "naumann, wang: of lithium iron phosphate; cycles_against_depth: of a sheet")                  \
  F(T, number, replace_at_health, "share", standard, 0, 1, 0.7, energy, none,                      \
    "a lot with less of its capacity left is replaced at the next year's start "                  \
    "(default: common practice, no source)")                                                      \
  F(T, choice, throughput, "", standard, 0, 0, 0, energy, throughput,                              \
    "wang: whether its Ah count the charge out alone or both ways")                                \
  F(T, list, depths, "", optional, 0, 0, 0, energy, depth_point,                                   \
    "cycles_against_depth: lines of the sheet, rising in depth")                                  \
  F(T, number, end_health, "share", standard, 0.1, 0.99, 0.8, energy, none,                        \
    "cycles_against_depth: capacity left at the end of that life (default: common practice, no "  \
    "source)")                                                                                     \
  F(T, number, calendar_years, "years", optional, 0.5, 200, 0, energy, none,                       \
    "cycles_against_depth: life at rest at 25 C, half of it at 35 C; absent: rest takes nothing")
STEADING_STRUCT(ageing, STEADING_AGEING)

#define STEADING_BATTERY(F, T)                                                                     \
  F(T, record, module, "", required, 0, 0, 0, energy, battery_module, "one module")                \
  F(T, list, lots, "", optional, 0, 0, 0, energy, lot, "what is bought and when: modules")         \
  F(T, record, room, "", optional, 0, 0, 0, energy, battery_room, "where it stands")               \
  F(T, record, ageing, "", optional, 0, 0, 0, energy, ageing,                                      \
    "how its capacity fades; false: not at all")
STEADING_STRUCT(battery, STEADING_BATTERY)

/* --- generators and fuels ---------------------------------------------------------------------- */

/* The roles of a generator, in the order of their words. */
enum { STEADING_ROLE_CARRIES, STEADING_ROLE_CHARGES, STEADING_ROLE_BOTH };

#define STEADING_GENERATOR_UNIT(F, T)                                                              \
  F(T, number, kw, "kW", required, 0.01, 1e4, 0, energy, none,                                     \
    "continuous power on this fuel, at sea level and in cool air")                                \
  F(T, name, fuel, "", required, 0, 0, 0, energy, none, "what it burns, of the site's fuels")      \
  F(T, number, no_load_l_per_h, "l/h", required, 0, 1e6, 0, energy, none,                          \
    "burnt while it runs and gives nothing")                                                      \
  F(T, number, l_per_kwh, "l/kWh", required, 0, 1e4, 0, energy, none,                              \
    "burnt for each kWh on top of that; a litre of gas is one of gas")                            \
  F(T, number, least_load_share, "share", standard, 0, 1, 0, energy, none,                         \
    "of its power in force; at less it burns as at that load")                                    \
  F(T, number, derate_per_1000_m, "share", standard, 0, 1, 0.115, energy, none,                    \
    "power lost for each 1000 m of altitude (default: 3.5 % per 1000 ft, manuals of gas sets)")   \
  F(T, number, derate_above_m, "m", standard, 0, 9000, 0, energy, none,                            \
    "altitude from which on it loses power")                                                      \
  F(T, number, derate_per_10_c, "share", standard, 0, 1, 0.018, energy, none,                      \
    "power lost for each 10 K of heat (default: 1 % per 10 F, manuals of gas sets)")              \
  F(T, number, derate_above_c, "C", standard, -40, 80, 25, energy, none,                           \
    "air temperature from which on it loses power (default: 77 F, the same manuals)")             \
  STEADING_LATER(F, T, start_kva, "motor starts")
STEADING_STRUCT(generator_unit, STEADING_GENERATOR_UNIT)

#define STEADING_SERVICE(F, T)                                                                     \
  F(T, number, every_hours, "h", required, 1, 1e6, 0, money, none, "hours of running between two") \
  F(T, number, price, "money", required, 0, 1e9, 0, money, none, "of one service")
STEADING_STRUCT(service, STEADING_SERVICE)

extern const char *const steading_choices_role[];
#define STEADING_GENERATOR(F, T)                                                                   \
  F(T, record, unit, "", required, 0, 0, 0, energy, generator_unit, "one set; lots say how many")  \
  F(T, choice, role, "", standard, 0, 0, 2, energy, role,                                          \
    "carries: the loads that sun leaves; charges: the battery alone; both: loads first, the rest " \
    "into the battery")                                                                           \
  F(T, number, charger_kw, "kW", optional, 0, 1e4, 0, energy, none,                                \
    "charges, both: most AC power of a set that goes to the battery")                             \
  F(T, number, charger_efficiency, "share", standard, 0.3, 1, 0.95, energy, none,                  \
    "of that, DC out over AC in (default: common practice, no source)")                           \
  F(T, record, service, "", optional, 0, 0, 0, money, service, "oil, filters and the like")        \
  F(T, list, lots, "", optional, 0, 0, 0, energy, lot, "what is bought and when: sets")
STEADING_STRUCT(generator, STEADING_GENERATOR)

#define STEADING_EXERCISE(F, T)                                                                    \
  F(T, windows, window, "", required, 0, 0, 0, energy, none,                                       \
    "when it is run so that it stays fit, in civil time; the grid being up does not hold it")     \
  F(T, flag, loaded, "", standard, 0, 0, 0, energy, none,                                          \
    "it then works by its role; otherwise it runs and gives nothing")
STEADING_STRUCT(exercise, STEADING_EXERCISE)

#define STEADING_GENERATOR_RULES(F, T)                                                             \
  F(T, number, start_below_charge, "share", optional, 0, 1, 0, energy, none,                       \
    "charge at or below which it starts; absent: the charge never starts it")                     \
  F(T, number, stop_above_charge, "share", optional, 0, 1, 0, energy, none,                        \
    "charge at which it stops; absent: when the load is served without it")                       \
  F(T, flag, start_if_unserved, "", standard, 0, 0, 1, energy, none,                               \
    "it starts when load would be left unserved without it, and runs on for that")                \
  F(T, windows, quiet, "", optional, 0, 0, 0, energy, none, "when it must not run, in civil time") \
  F(T, number, least_hours, "h", standard, 0, 168, 0, energy, none, "least length of a run")       \
  F(T, number, least_rest_hours, "h", standard, 0, 168, 0, energy, none, "least time between runs") \
  F(T, number, most_hours_per_day, "h", standard, 0.01, 24, INFINITY, energy, none,                \
    "most hours of running in a day; absent: no limit")                                           \
  F(T, flag, only_without_grid, "", standard, 0, 0, 1, energy, none,                               \
    "it runs only while the grid is down, or where there is none")                                \
  F(T, record, exercise, "", optional, 0, 0, 0, energy, exercise, "runs that keep it fit")
STEADING_STRUCT(generator_rules, STEADING_GENERATOR_RULES)

#define STEADING_FUEL_STORE(F, T)                                                                  \
  F(T, number, litres, "l", required, 1, 1e9, 0, energy, none, "volume")                           \
  F(T, number, full_to, "share", optional, 0.01, 1, 0, energy, none,                               \
    "share to which it may be filled; absent: propane 0.8, petrol and diesel 0.95, others 1")     \
  F(T, number, litres_at_start, "l", optional, 0, 1e9, 0, energy, none,                            \
    "in it when the run starts; absent: half of what it may hold")
STEADING_STRUCT(fuel_store, STEADING_FUEL_STORE)

#define STEADING_DELIVERY(F, T)                                                                    \
  F(T, number, order_below, "share", required, 0, 1, 0, energy, none,                              \
    "of the tank's volume; below it a truck is ordered at 00:00")                                 \
  F(T, count, lead_days, "days", standard, 0, 365, 0, energy, none, "from the order to the truck") \
  F(T, number, least_l, "l", standard, 0, 1e9, 0, energy, none, "a truck comes for no less")       \
  F(T, number, fee, "money", standard, 0, 1e9, 0, money, none, "for each time that a truck comes") \
  F(T, year_days, closed, "", optional, 0, 0, 0, energy, none,                                     \
    "days of the year without a road: { \"03-10..04-30\" }; a truck due then comes on the first " \
    "open day after")
STEADING_STRUCT(delivery, STEADING_DELIVERY)

#define STEADING_FUEL(F, T)                                                                        \
  F(T, number, kwh_per_l, "kWh/l", optional, 1e-4, 20, 0, energy, none,                            \
    "gross energy content; absent: that of propane, natural_gas, petrol or diesel")               \
  F(T, number, price_per_l, "money/l", standard, 0, 1e6, 0, money, none,                           \
    "today's price; a litre of gas is one of gas, a thousandth of a cubic metre")                 \
  F(T, number, fixed_per_year, "money", standard, 0, 1e9, 0, money, none,                          \
    "rent of a tank, standing charge of a pipe")                                                  \
  F(T, record, tank, "", optional, 0, 0, 0, energy, fuel_store, "absent: it never runs out")       \
  F(T, record, delivery, "", optional, 0, 0, 0, energy, delivery,                                  \
    "how the tank is filled again; absent: never")
STEADING_STRUCT(fuel, STEADING_FUEL)

#define STEADING_SHED(F, T)                                                                        \
  F(T, number, sheddable, "share", optional, 0, 1, 0, energy, none,                                \
    "charge below which loads of this class are not served; absent: they always are")             \
  F(T, number, deferrable, "share", optional, 0, 1, 0, energy, none, "the same of deferrable loads") \
  F(T, number, ordinary, "share", optional, 0, 1, 0, energy, none, "the same of ordinary loads")   \
  F(T, refused, essential, "", optional, 0, 0, 0, energy, none,                                    \
    "an essential load is never shed; give what may be shed another class")                       \
  F(T, number, restore_above, "share", standard, 0, 1, 0.05, energy, none,                         \
    "served again once the charge is this much above the share (default: our own choice, no "     \
    "source)")
STEADING_STRUCT(shed, STEADING_SHED)

#define STEADING_CHARGE_FROM_GRID(F, T)                                                            \
  F(T, windows, window, "", required, 0, 0, 0, energy, none,                                       \
    "when, in civil time and on whole steps of the run")                                          \
  F(T, number, charge_to, "share", required, 0, 1, 0, energy, none,                                \
    "charge up to which the grid fills the battery")                                              \
  F(T, number, kw, "kW", standard, 0, 1e5, INFINITY, energy, none,                                 \
    "most AC power of the hub for it; absent: what its units can")
STEADING_STRUCT(charge_from_grid, STEADING_CHARGE_FROM_GRID)

#define STEADING_RAISE_RESERVE(F, T)                                                               \
  F(T, count, ahead_h, "h", required, 1, 720, 0, energy, none, "how far it looks ahead")           \
  F(T, number, below_kwh, "kWh", required, 0, 1e9, 0, energy, none,                                \
    "it is raised while the arrays of the hub are expected to give less than this in that time, " \
    "DC")                                                                                         \
  F(T, number, to, "share", required, 0, 1, 0, energy, none,                                       \
    "charge kept then, while the grid is up: the larger of it and the floor in force counts")     \
  F(T, number, skill, "share", standard, 0, 1, 1, energy, none,                                    \
    "1: what comes is known; 0: only what the hours of the month give in the mean")
STEADING_STRUCT(raise_reserve, STEADING_RAISE_RESERVE)

extern const char *const steading_choices_battery_use[];
#define STEADING_RULES(F, T)                                                                       \
  F(T, number, battery_floor, "share", standard, 0, 1, 0.1, energy, none,                          \
    "charge below which the grid takes over")                                                     \
  F(T, number, resume_above, "share", optional, 0, 1, 0, energy, none,                             \
    "once at the floor, the battery serves again from this charge on; absent: at once")           \
  F(T, number, outage_floor, "share", optional, 0, 1, 0, energy, none,                             \
    "charge that is kept while there is no grid; absent: battery_floor")                          \
  F(T, monthly, reserve, "share", standard, 0, 1, 0, energy, none,                                 \
    "charge kept for outages while the grid is up, one number or twelve: the larger of it and "   \
    "battery_floor counts")                                                                       \
  F(T, record, raise_reserve, "", optional, 0, 0, 0, energy, raise_reserve,                        \
    "a reserve that is raised ahead of dull days")                                                \
  F(T, choice, battery_use, "", standard, 0, 0, 0, energy, battery_use,                            \
    "daily: sun, then battery, then grid; outages: with the grid up the battery serves loads in " \
    "its discharge_windows only, without them never")                                             \
  F(T, windows, discharge_windows, "", optional, 0, 0, 0, energy, none,                            \
    "when the battery serves loads while the grid is up, in civil time and on whole steps of "    \
    "the run; absent: always")                                                                    \
  F(T, record, charge_from_grid, "", optional, 0, 0, 0, energy, charge_from_grid,                  \
    "when the grid charges the battery, and how far; absent: never")                              \
  F(T, texts, surplus_order, "", optional, 0, 0, 0, energy, none,                                  \
    "who takes surplus sun, in order: water, hot_water, battery, vehicle, export (the meter's "   \
    "other buildings and hubs, then the grid); what is left out takes none")                      \
  F(T, record, generator, "", optional, 0, 0, 0, energy, generator_rules,                          \
    "when the generator runs; absent: when load would be left unserved")                          \
  F(T, record, shed, "", optional, 0, 0, 0, energy, shed,                                          \
    "loads that are not served while there is no grid and the charge is low")                     \
  F(T, function, decide, "", optional, 0, 0, 0, energy, none,                                      \
    "called before each step: what it returns is in force instead of these rules in that step")
STEADING_STRUCT(rules, STEADING_RULES)

#define STEADING_HUB(F, T)                                                                         \
  F(T, text, title, "", optional, 0, 0, 0, label, none, "for people, instead of its name")         \
  F(T, name, meter, "", optional, 0, 0, 0, energy, none,                                           \
    "the meter behind which it stands; absent: off the grid")                                     \
  F(T, record, inverter, "", required, 0, 0, 0, energy, inverter, "the power conversion equipment") \
  F(T, list, arrays, "", optional, 0, 0, 0, energy, array, "PV arrays")                            \
  F(T, several, battery, "", optional, 0, 0, 0, energy, battery,                                   \
    "modules of one kind; of several kinds, a list in which the first works first")                \
  F(T, record, rules, "", standard, 0, 0, 0, energy, rules, "who feeds whom, and down to what")    \
  F(T, record, generator, "", optional, 0, 0, 0, energy, generator,                                \
    "an engine that makes AC power of a fuel of the site")                                        \
  STEADING_LATER(F, T, sources, "other sources")
STEADING_STRUCT(hub, STEADING_HUB)

/* --- meters and tariffs ------------------------------------------------------------------------ */

#define STEADING_TARIFF_BLOCK(F, T)                                                                \
  F(T, number, price_per_kwh, "money/kWh", required, -100, 1e4, 0, money, none, "energy price")    \
  F(T, number, up_to_kwh, "kWh", optional, 0, 1e12, 0, money, none,                                \
    "upper edge of the block, of the energy of the month; the last block has none")               \
  F(T, number, up_to_kwh_per_day, "kWh", optional, 0, 1e12, 0, money, none,                        \
    "the same times the days of the month")                                                       \
  F(T, flag, all_at_last, "", standard, 0, 0, 0, money, none,                                      \
    "all energy of the month has the price of the block that it reaches")
STEADING_STRUCT(tariff_block, STEADING_TARIFF_BLOCK)

#define STEADING_PRICE_BLOCKS(F, T)                                                                \
  F(T, list, blocks, "", optional, 0, 0, 0, money, tariff_block,                                   \
    "the list itself: blocks in rising order; one block is a flat price")                         \
  F(T, flag, all_at_last, "", standard, 0, 0, 0, money, none,                                      \
    "all energy of the month has the price of the block that it reaches")
STEADING_STRUCT(price_blocks, STEADING_PRICE_BLOCKS)

/* When a period applies is no price: dispatch counts by it, so that it belongs to what a run is
 * remembered by. */
#define STEADING_PERIOD(F, T)                                                                      \
  F(T, text, name, "", required, 0, 0, 0, money, none, "what the bill calls it")                   \
  F(T, number, price_per_kwh, "money/kWh", optional, -100, 1e4, 0, money, none, "energy price")    \
  F(T, listed, blocks, "", optional, 0, 0, 0, money, price_blocks,                                 \
    "or blocks of the energy of the month in this period")                                        \
  F(T, window_part, hours, "", optional, 0, 0, 0, energy, none,                                    \
    "\"17:00-21:00\", in civil time; absent: all day")                                            \
  F(T, window_part, days, "", optional, 0, 0, 0, energy, none,                                     \
    "\"Mon-Fri\"; a holiday counts as a Sunday; absent: all days")                                \
  F(T, window_part, months, "", optional, 0, 0, 0, energy, none,                                   \
    "\"Jun-Sep\", 6 or a list; absent: all months")                                               \
  F(T, windows, window, "", optional, 0, 0, 0, energy, none,                                       \
    "instead of hours, days and months: a window or a list of windows")
STEADING_STRUCT(period, STEADING_PERIOD)

extern const char *const steading_choices_energy_prices[];
#define STEADING_ENERGY_PRICES(F, T)                                                               \
  F(T, list, blocks, "", optional, 0, 0, 0, money, tariff_block,                                   \
    "the list itself: blocks in rising order; one block is a flat price")                         \
  F(T, choice, kind, "", standard, 0, 0, 0, money, energy_prices,                                  \
    "periods: prices by the clock, in periods")                                                   \
  F(T, list, periods, "", optional, 0, 0, 0, money, period,                                        \
    "in order: the first that fits counts; together they cover every minute")                     \
  F(T, flag, all_at_last, "", standard, 0, 0, 0, money, none,                                      \
    "all energy of the month has the price of the block that it reaches")                         \
  F(T, refused, price_per_kwh, "", optional, 0, 0, 0, money, none,                                 \
    "prices stand in a list; write energy = { { price_per_kwh = ... } }")
STEADING_STRUCT(energy_prices, STEADING_ENERGY_PRICES)

#define STEADING_RIDER(F, T)                                                                       \
  F(T, text, name, "", required, 0, 0, 0, money, none, "what the bill calls it")                   \
  F(T, monthly, price_per_kwh, "money/kWh", required, -100, 1e4, 0, money, none,                   \
    "added to every kWh that the energy lines charge; one number or twelve")
STEADING_STRUCT(rider, STEADING_RIDER)

extern const char *const steading_choices_export_price[];
extern const char *const steading_choices_export_cap[];
#define STEADING_EXPORT_PRICE(F, T)                                                                \
  F(T, choice, kind, "", required, 0, 0, 0, money, export_price,                                   \
    "net_metering: exported kWh offset imported kWh; net_billing: they earn money")               \
  F(T, number, price_per_kwh, "money/kWh", optional, 0, 1e4, 0, money, none,                       \
    "net_billing: credit for a kWh")                                                              \
  F(T, choice, cap, "", optional, 0, 0, 0, money, export_cap,                                      \
    "net_billing: credit pays at most the month's energy, the rest is carried; absent: no limit") \
  F(T, count, true_up_month, "", optional, 1, 12, 0, money, none,                                  \
    "at the end of this month what is carried expires; absent: never")                            \
  F(T, number, cash_out_price_per_kwh, "money/kWh", optional, 0, 1e4, 0, money, none,              \
    "or is paid out at this price")
STEADING_STRUCT(export_price, STEADING_EXPORT_PRICE)

extern const char *const steading_choices_taxed[];
#define STEADING_TAX(F, T)                                                                         \
  F(T, text, name, "", required, 0, 0, 0, money, none, "what the bill calls it")                   \
  F(T, number, share, "share", required, 0, 1, 0, money, none, "of the lines below")               \
  F(T, words, on, "", required, 0, 0, 0, money, taxed, "the lines that it is taken on")
STEADING_STRUCT(tax, STEADING_TAX)

#define STEADING_TARIFF(F, T)                                                                      \
  F(T, number, fixed_per_month, "money", standard, 0, 1e9, 0, money, none, "fixed charge a month") \
  F(T, number, fixed_per_day, "money", standard, 0, 1e9, 0, money, none, "fixed charge a day")     \
  F(T, listed, energy, "", required, 0, 0, 0, money, energy_prices,                                \
    "price of energy: { { price_per_kwh = ... } }, blocks, or { kind = \"periods\", periods = ... }") \
  F(T, number, minimum_bill_per_month, "money", standard, 0, 1e9, 0, money, none,                  \
    "least that a month costs before taxes; 0: no such rule")                                     \
  F(T, year_days, holidays, "", standard, 0, 0, 0, energy, none,                                   \
    "days of the year that periods take for Sundays: { \"01-01\", \"12-25\" }")                   \
  F(T, list, riders, "", optional, 0, 0, 0, money, rider, "adjustments a kWh")                     \
  F(T, record, export, "", optional, 0, 0, 0, money, export_price,                                 \
    "what exported energy is worth; absent: nothing")                                             \
  F(T, list, taxes, "", optional, 0, 0, 0, money, tax, "shares of other lines")                    \
  STEADING_LATER(F, T, demand, "demand charges")                                                   \
  STEADING_LATER(F, T, contracted, "contracted power")
STEADING_STRUCT(tariff, STEADING_TARIFF)

enum { STEADING_LENGTHS_LOGNORMAL, STEADING_LENGTHS_EXPONENTIAL, STEADING_LENGTHS_EQUAL };
extern const char *const steading_choices_outage_lengths[];
#define STEADING_OUTAGE_LENGTHS(F, T)                                                              \
  F(T, choice, model, "", standard, 0, 0, 0, energy, outage_lengths,                               \
    "lognormal; exponential; equal: each lasts caidi_h")                                           \
  F(T, number, spread, "", optional, 0, 1.5, 0, energy, none,                                      \
    "lognormal: standard deviation of the logarithm of the length; absent: 1.14, a mean of 115 "   \
    "minutes beside a median of 60")
STEADING_STRUCT(outage_lengths, STEADING_OUTAGE_LENGTHS)

#define STEADING_ROTA(F, T)                                                                        \
  F(T, number, hours, "h", required, 0.01, 24, 0, energy, none, "length of one turn")              \
  F(T, text, starts, "", required, 0, 0, 0, energy, none,                                          \
    "\"18:00\": civil time at which the first turn begins")                                        \
  F(T, count, every_days, "days", standard, 1, 365, 1, energy, none,                               \
    "days from one turn to the next")                                                              \
  F(T, count, first_day, "days", standard, 0, 73000, 0, energy, none,                                \
    "days from the start of the run to the first turn: groups of a rota differ in it")             \
  F(T, number, moves_h, "h", standard, 0, 24, 0, energy, none,                                     \
    "each turn begins this much later in the day than the one before, around the clock")           \
  F(T, window_part, months, "", optional, 0, 0, 0, energy, none,                                   \
    "\"Jun-Sep\", 6 or a list: months in which turns begin; absent: all")
STEADING_STRUCT(rota, STEADING_ROTA)

#define STEADING_OUTAGES(F, T)                                                                     \
  F(T, windows, windows, "", optional, 0, 0, 0, energy, none,                                      \
    "planned outages, in civil time and on whole steps of the run")                               \
  F(T, record, rota, "", optional, 0, 0, 0, energy, rota,                                          \
    "planned outages that take turns, on whole steps of the run")                                  \
  F(T, number, saifi, "", optional, 0, 1000, 0, energy, none,                                      \
    "random outages a year, on average; goes with caidi_h")                                        \
  F(T, number, caidi_h, "h", optional, 0.02, 100, 0, energy, none,                                 \
    "mean length of a random outage")                                                              \
  F(T, count, seed, "", standard, 0, 9e15, 1, energy, none,                                        \
    "of the random outages; meters with the same seed and numbers have the same ones")             \
  F(T, monthly, by_month, "", standard, 0, 1000, 1, energy, none,                                  \
    "how often random outages begin on a day of each month, in proportion")                        \
  F(T, number, in_dull_weather, "share", standard, 0, 1, 0, energy, none,                          \
    "share of the random outages that begin on one of the 36 days of the year with the least of "  \
    "the light that a clear sky would let through")                                                \
  F(T, number, in_extreme_weather, "share", standard, 0, 1, 0, energy, none,                       \
    "share that begin on one of the 12 hottest, 12 coldest or 12 windiest days of the year")       \
  F(T, record, lengths, "", standard, 0, 0, 0, energy, outage_lengths,                             \
    "how the lengths of random outages are spread about caidi_h")
STEADING_STRUCT(outages, STEADING_OUTAGES)

#define STEADING_METER(F, T)                                                                       \
  F(T, text, title, "", optional, 0, 0, 0, label, none, "for people, instead of its name")         \
  F(T, number, import_limit_kw, "kW", standard, 0, 1e6, INFINITY, energy, none,                    \
    "most that the grid gives; absent: no limit")                                                 \
  F(T, number, export_limit_kw, "kW", standard, 0, 1e6, 0, energy, none,                           \
    "most that the grid takes")                                                                   \
  F(T, record, tariff, "", optional, 0, 0, 0, money, tariff, "prices; absent: no bill")            \
  F(T, record, outages, "", optional, 0, 0, 0, energy, outages, "when the grid is down; false: never")
STEADING_STRUCT(meter, STEADING_METER)

/* --- loads ------------------------------------------------------------------------------------- */

extern const char *const steading_choices_class[];
#define STEADING_EVERY_LOAD(F, T)                                                                  \
  F(T, number, growth_per_year, "share", standard, -0.5, 1, 0, energy, none,                       \
    "yearly growth, compounding from the second year of the run on")                              \
  F(T, name, name, "", optional, 0, 0, 0, energy, none,                                            \
    "its own in the building; rules may call it by it")                                           \
  F(T, choice, class, "", standard, 0, 0, 0, energy, class,                                        \
    "who goes short last: essential, ordinary, deferrable, sheddable; rules.shed names classes")  \
  F(T, date, in_service, "", optional, 0, 0, 0, energy, none,                                      \
    "date from which it runs; absent: from the start of the run")

#define STEADING_LOAD_DAILY(F, T)                                                                  \
  F(T, number, kwh_per_day, "kWh", required, 0, 1e6, 0, energy, none, "energy of a day")           \
  F(T, hours, shape, "", required, 0, 1e6, 0, energy, none,                                        \
    "a named shape, or 24 numbers for civil hours 0..23 (their sum does not matter)")             \
  F(T, monthly, monthly, "", standard, 0, 1000, 1, energy, none, "factor on kwh_per_day by month") \
  STEADING_LATER(F, T, weekend, "weekends")                                                        \
  STEADING_LATER(F, T, stochastic, "random days")                                                  \
  STEADING_EVERY_LOAD(F, T)
STEADING_STRUCT(load_daily, STEADING_LOAD_DAILY)

#define STEADING_LOAD_STEADY(F, T)                                                                 \
  F(T, number, watts, "W", required, 0, 1e8, 0, energy, none, "power at all hours")                \
  STEADING_EVERY_LOAD(F, T)
STEADING_STRUCT(load_steady, STEADING_LOAD_STEADY)

#define STEADING_LOAD_REFRIGERATORS(F, T)                                                          \
  F(T, count, count, "", required, 0, 1e5, 0, energy, none, "how many")                            \
  F(T, number, kwh_per_year_each, "kWh", required, 0, 1e5, 0, energy, none,                        \
    "energy of one in a year, spread evenly over the hours")                                      \
  STEADING_EVERY_LOAD(F, T)
STEADING_STRUCT(load_refrigerators, STEADING_LOAD_REFRIGERATORS)

#define STEADING_LOAD_TIMED(F, T)                                                                  \
  F(T, number, kw, "kW", required, 0, 1e5, 0, energy, none, "power while it runs")                 \
  F(T, windows, window, "", required, 0, 0, 0, energy, none, "when it runs, in civil time")        \
  STEADING_EVERY_LOAD(F, T)
STEADING_STRUCT(load_timed, STEADING_LOAD_TIMED)

#define STEADING_LOAD_SERIES(F, T)                                                                 \
  F(T, series, kw, "kW", required, 0, 1e6, 0, energy, none,                                        \
    "mean power of each step of whole years of 8760 hours in standard time, January first; "      \
    "repeated when the run is longer")                                                            \
  F(T, count, step_minutes, "min", standard, 1, 60, 60, energy, none,                              \
    "step of the numbers: 60, 30, 15, 10, 5 or 1")                                                \
  STEADING_EVERY_LOAD(F, T)
STEADING_STRUCT(load_series, STEADING_LOAD_SERIES)

#define STEADING_LOAD_BILLS(F, T)                                                                  \
  F(T, monthly, kwh, "kWh", required, 0, 1e7, 0, energy, none,                                     \
    "energy of each month's bill, January first")                                                 \
  F(T, hours, shape, "", required, 0, 1e6, 0, energy, none,                                        \
    "a named shape, or 24 numbers for civil hours 0..23 (their sum does not matter)")             \
  STEADING_EVERY_LOAD(F, T)
STEADING_STRUCT(load_bills, STEADING_LOAD_BILLS)

extern const steading_spec *const steading_variants_loads[];

/* The class of a load of any kind, STEADING_CLASS_... */
int steading_load_class(const steading_record *load);

#define STEADING_BUILDING(F, T)                                                                    \
  F(T, text, title, "", optional, 0, 0, 0, label, none, "for people, instead of its name")         \
  F(T, name, hub, "", optional, 0, 0, 0, energy, none, "the hub that feeds it")                    \
  F(T, name, meter, "", optional, 0, 0, 0, energy, none, "or the meter, without a hub between")    \
  F(T, variants, loads, "", optional, 0, 0, 0, energy, loads, "what steading.load.* return")       \
  STEADING_LATER(F, T, feeder, "cables between buildings")                                         \
  STEADING_LATER(F, T, occupied, "calendars of occupation")                                        \
  F(T, date, in_service, "", optional, 0, 0, 0, energy, none,                                      \
    "date from which its loads run; absent: from the start of the run")
STEADING_STRUCT(building, STEADING_BUILDING)

/* --- water ------------------------------------------------------------------------------------- */

#define STEADING_WELL(F, T)                                                                        \
  F(T, text, title, "", optional, 0, 0, 0, label, none, "for people, instead of its name")         \
  F(T, name, hub, "", optional, 0, 0, 0, energy, none, "the hub that feeds its pump")              \
  F(T, name, meter, "", optional, 0, 0, 0, energy, none, "or the meter")                           \
  F(T, number, lift_m, "m", required, 0.1, 2000, 0, energy, none, "total pumping head")            \
  F(T, number, flow_l_per_min, "l/min", required, 0.01, 1e5, 0, energy, none,                      \
    "flow while the pump runs")                                                                   \
  F(T, number, efficiency, "share", required, 0.01, 1, 0, energy, none, "wire to water")           \
  F(T, list, lots, "", optional, 0, 0, 0, energy, lot, "what is bought and when: pumps")           \
  STEADING_LATER(F, T, static_m, "drawdown")                                                       \
  STEADING_LATER(F, T, drawdown_m_per_l_min, "drawdown")                                           \
  STEADING_LATER(F, T, rise_m, "drawdown")                                                         \
  STEADING_LATER(F, T, pipe, "pipe friction")                                                      \
  STEADING_LATER(F, T, recovery_l_per_h, "slow wells")                                             \
  STEADING_LATER(F, T, casing_litres, "slow wells")                                                \
  STEADING_LATER(F, T, dry_rest_min, "slow wells")                                                 \
  STEADING_LATER(F, T, drive, "motor starts")                                                      \
  STEADING_LATER(F, T, start_kva, "motor starts")                                                  \
  STEADING_LATER(F, T, start_seconds, "motor starts")                                              \
  STEADING_LATER(F, T, most_starts_per_h, "motor starts")
STEADING_STRUCT(well, STEADING_WELL)

#define STEADING_TANK(F, T)                                                                        \
  F(T, text, title, "", optional, 0, 0, 0, label, none, "for people, instead of its name")         \
  F(T, number, litres, "l", required, 1, 1e9, 0, energy, none, "volume")                           \
  F(T, name, fed_by, "", required, 0, 0, 0, energy, none, "the well whose pump fills it")          \
  F(T, number, start_below, "share", standard, 0, 1, 0.4, energy, none,                            \
    "level at which the pump must start, sun or not")                                             \
  F(T, number, stop_above, "share", standard, 0, 1, 0.9, energy, none,                             \
    "level at which such a run ends")                                                             \
  F(T, number, surplus_to, "share", standard, 0, 1, 1, energy, none,                               \
    "level up to which surplus sun pumps; 0: it never does")                                      \
  F(T, list, lots, "", optional, 0, 0, 0, energy, lot, "what is bought and when: tanks")           \
  STEADING_LATER(F, T, keep_back, "water kept for outages and fire")
STEADING_STRUCT(tank, STEADING_TANK)

#define STEADING_USER(F, T)                                                                        \
  F(T, text, title, "", optional, 0, 0, 0, label, none, "for people, instead of its name")         \
  F(T, name, tank, "", required, 0, 0, 0, energy, none, "the tank it draws from")                  \
  F(T, number, people, "", optional, 0, 1e5, 0, energy, none, "people")                            \
  F(T, number, litres_per_person_day, "l", optional, 0, 1e4, 0, energy, none, "water a person")    \
  F(T, monthly, litres_per_day, "l", optional, 0, 1e8, 0, energy, none,                            \
    "water of a day, one number or twelve; drawn evenly over the hours")
STEADING_STRUCT(user, STEADING_USER)

#define STEADING_WATER(F, T)                                                                       \
  F(T, map, wells, "", optional, 0, 0, 0, energy, well, "wells and their pumps")                   \
  F(T, map, tanks, "", optional, 0, 0, 0, energy, tank, "tanks")                                   \
  F(T, map, users, "", optional, 0, 0, 0, energy, user, "who draws water")                         \
  STEADING_LATER(F, T, pressure, "pressure pumps")
STEADING_STRUCT(water, STEADING_WATER)

/* --- the site ---------------------------------------------------------------------------------- */

#define STEADING_SITE(F, T)                                                                        \
  F(T, text, name, "", standard, 0, 0, 0, label, none, "for people; kept beside every result")     \
  F(T, weather, weather, "", required, 0, 0, 0, energy, none, "sun and temperature")               \
  F(T, text, currency, "", standard, 0, 0, 0, label, none, "a label; kept beside every result")    \
  F(T, number, grid_free_below_kw, "kW", standard, 0, 1e3, 0.05, energy, none,                     \
    "an hour is grid-free when its mean import is at most this and the whole load is served")     \
  F(T, map, meters, "", optional, 0, 0, 0, energy, meter, "connections to the grid")               \
  F(T, map, hubs, "", optional, 0, 0, 0, energy, hub, "arrays, battery and inverter that work as one") \
  F(T, map, buildings, "", optional, 0, 0, 0, energy, building, "dwellings and outbuildings")      \
  F(T, record, water, "", optional, 0, 0, 0, energy, water, "wells, tanks and who draws water")    \
  F(T, list, works, "", optional, 0, 0, 0, money, works, "bought things that are no component")    \
  F(T, map, fuels, "", optional, 0, 0, 0, energy, fuel, "what generators burn")
STEADING_STRUCT(site, STEADING_SITE)

/* --- what a run and an appraisal are given ------------------------------------------------------- */

#define STEADING_INITIAL(F, T)                                                                     \
  F(T, number, state_of_charge, "share", optional, 0, 1, 0, energy, none,                          \
    "charge at the start; absent: half way between floor and full")                               \
  F(T, number, tank_share, "share", standard, 0, 1, 0.5, energy, none, "tank level at the start")
STEADING_STRUCT(initial, STEADING_INITIAL)

extern const char *const steading_choices_keep[];
#define STEADING_SIMULATE(F, T)                                                                    \
  F(T, date, start, "", optional, 0, 0, 0, energy, none,                                           \
    "first day, the first of a month; absent: the date of the earliest lot")                      \
  F(T, count, years, "years", standard, 1, 200, 1, energy, none, "how many years of 8760 hours")   \
  F(T, count, step_minutes, "min", standard, 1, 60, 60, energy, none,                              \
    "length of a step: 60, 30, 15, 10, 5 or 1")                                                   \
  F(T, choice, keep, "", standard, 0, 0, 1, energy, keep, "what is kept: annual, monthly or steps") \
  F(T, record, initial, "", standard, 0, 0, 0, energy, initial, "state at the start")              \
  F(T, count, seed, "", optional, 0, 9e15, 0, energy, none,                                        \
    "other draws of all random parts of the run at once; absent: those of their own seeds")        \
  STEADING_LATER(F, T, weather_years, "another order of weather years")                            \
  F(T, texts, columns, "", optional, 0, 0, 0, label, none,                                         \
    "with keep = \"steps\": the columns of run.steps, in this order; absent: all")                \
  F(T, date, from, "", optional, 0, 0, 0, label, none,                                             \
    "with keep = \"steps\": first day that is kept; absent: the first of the run")                \
  F(T, date, to, "", optional, 0, 0, 0, label, none,                                               \
    "with keep = \"steps\": last day that is kept; absent: the last of the run")
STEADING_STRUCT(simulate, STEADING_SIMULATE)

#define STEADING_ESCALATION(F, T)                                                                  \
  F(T, numbers, energy, "share", optional, -0.5, 1, 0, money, none,                                \
    "yearly rise of the price per kWh, one number or one for each year; absent: 0")               \
  F(T, numbers, fixed, "share", optional, -0.5, 1, 0, money, none,                                 \
    "yearly rise of fixed charges and of the minimum bill; absent: 0")                            \
  F(T, numbers, riders, "share", optional, -0.5, 1, 0, money, none,                                \
    "yearly rise of the riders; absent: that of energy")                                          \
  F(T, numbers, export, "share", optional, -0.5, 1, 0, money, none,                                \
    "yearly rise of the prices for export; absent: 0")                                            \
  STEADING_LATER(F, T, demand, "demand charges")                                                   \
  F(T, numbers, fuel, "share", optional, -0.5, 1, 0, money, none,                                  \
    "yearly rise of the costs of fuels that have none of their own; absent: 0")                   \
  F(T, numbers, propane, "share", optional, -0.5, 1, 0, money, none,                               \
    "of the fuel called propane; absent: that of fuel")                                           \
  F(T, numbers, natural_gas, "share", optional, -0.5, 1, 0, money, none,                           \
    "of the fuel called natural_gas; absent: that of fuel")                                       \
  F(T, numbers, petrol, "share", optional, -0.5, 1, 0, money, none,                                \
    "of the fuel called petrol; absent: that of fuel")                                            \
  F(T, numbers, diesel, "share", optional, -0.5, 1, 0, money, none,                                \
    "of the fuel called diesel; absent: that of fuel")                                            \
  F(T, numbers, upkeep, "share", optional, -0.5, 1, 0, money, none,                                \
    "yearly rise of the price of a generator's service; absent: 0")
STEADING_STRUCT(escalation, STEADING_ESCALATION)

extern const char *const steading_choices_of_what[];
#define STEADING_SMALL_ITEMS(F, T)                                                                 \
  F(T, number, share, "share", required, 0, 0.95, 0, money, none,                                  \
    "wires, breakers, racks and the like as a share")                                             \
  F(T, choice, of, "", required, 0, 0, 0, money, of_what,                                          \
    "parts: of the parts priced above; total: of parts and small items together")
STEADING_STRUCT(small_items, STEADING_SMALL_ITEMS)

extern const char *const steading_choices_prices[];
#define STEADING_MONEY(F, T)                                                                       \
  F(T, count, horizon_years, "years", required, 1, 200, 0, money, none,                            \
    "years that are judged, at most those of the run")                                            \
  F(T, choice, prices, "", standard, 0, 0, 0, money, prices,                                       \
    "whether rates are nominal (with inflation) or real")                                         \
  F(T, number, discount, "share", required, -0.5, 1, 0, money, none, "discount rate a year")       \
  F(T, number, inflation, "share", standard, -0.5, 1, 0, money, none,                              \
    "general inflation a year: the trend of replacement prices where a lot gives none")           \
  F(T, record, escalation, "", standard, 0, 0, 0, money, escalation,                               \
    "yearly rise of what the utility bills")                                                      \
  F(T, record, small_items, "", optional, 0, 0, 0, money, small_items, "small items by share")     \
  F(T, number, hired_labour, "share", standard, 0, 5, 0, money, none,                              \
    "labour as a share of parts where a lot says nothing")                                        \
  STEADING_LATER(F, T, incentives, "incentives")                                                   \
  STEADING_LATER(F, T, loans, "loans")                                                             \
  STEADING_LATER(F, T, upkeep, "upkeep")                                                           \
  STEADING_LATER(F, T, tax, "taxes")
STEADING_STRUCT(money, STEADING_MONEY)

/* --- weather ----------------------------------------------------------------------------------- */

#define STEADING_PLACE_FIELDS(F, T)                                                                \
  F(T, number, latitude_deg, "deg", optional, -90, 90, 0, energy, none, "north positive")          \
  F(T, number, longitude_deg, "deg", optional, -180, 180, 0, energy, none, "east positive")        \
  F(T, number, elevation_m, "m", optional, -500, 9000, 0, energy, none,                            \
    "above sea level; generators lose power with it")                                                     \
  F(T, text, time_zone, "", optional, 0, 0, 0, energy, none,                                       \
    "zone name of civil time, such as \"America/Denver\"")                                        \
  F(T, number, record_low_c, "C", optional, -90, 40, 0, energy, none,                              \
    "lowest temperature ever, for the open voltage of strings; the weather's, where that is lower")
STEADING_STRUCT(place_fields, STEADING_PLACE_FIELDS)

extern const char *const steading_choices_days[];
#define STEADING_CLIMATE_FIELDS(F, T)                                                              \
  F(T, record, place, "", required, 0, 0, 0, energy, place_fields, "where")                        \
  F(T, count, years, "years", standard, 1, 200, 20, energy, none, "how many years")                \
  F(T, count, seed, "", standard, 0, 9e15, 1, energy, none, "of the random draws")                 \
  F(T, monthly, ghi_kwh_per_m2_day, "kWh/m2", required, 0.05, 12, 0, energy, none,                 \
    "mean daily global irradiation on the horizontal, twelve")                                    \
  F(T, monthly, temp_mean_c, "C", required, -60, 50, 0, energy, none, "mean temperature, twelve")  \
  F(T, monthly, temp_range_c, "C", required, 0, 40, 0, energy, none,                               \
    "mean difference of a day's highest and lowest temperature, twelve")                          \
  F(T, flag, exact_months, "", standard, 0, 0, 0, energy, none,                                    \
    "every month of every year has its mean exactly")                                             \
  F(T, choice, days, "", standard, 0, 0, 0, energy, days,                                          \
    "how days follow each other: Markov chains (Aguiar et al. 1988) or a Gaussian process "       \
    "through the distribution of Bendt et al. 1981")                                              \
  F(T, monthly, wind_m_per_s, "m/s", optional, 0, 30, 0, energy, none,                             \
    "mean wind at 10 m, twelve; absent: no wind is made")                                         \
  F(T, number, wind_shape, "", standard, 1, 5, 2, energy, none,                                    \
    "of the Weibull distribution of the wind; 2 is Rayleigh's")
STEADING_STRUCT(climate_fields, STEADING_CLIMATE_FIELDS)

#define STEADING_REFINE_FIELDS(F, T)                                                               \
  F(T, count, step_minutes, "min", required, 1, 30, 0, energy, none,                               \
    "30, 15, 10, 5 or 1: a part of the weather's own steps")                                      \
  F(T, count, seed, "", standard, 0, 9e15, 1, energy, none, "of the random draws")
STEADING_STRUCT(refine_fields, STEADING_REFINE_FIELDS)

extern const char *const steading_choices_light_unit[];
#define STEADING_LIGHT_COLUMN(F, T)                                                                \
  F(T, text, name, "", required, 0, 0, 0, energy, none,                                            \
    "what the column is called; may stand first, without a key")                                  \
  F(T, choice, unit, "", required, 0, 0, 0, energy, light_unit,                                    \
    "of its numbers; an energy is that of the row's step")
STEADING_STRUCT(light_column, STEADING_LIGHT_COLUMN)

extern const char *const steading_choices_temp_unit[];
#define STEADING_TEMP_COLUMN(F, T)                                                                 \
  F(T, text, name, "", required, 0, 0, 0, energy, none,                                            \
    "what the column is called; may stand first, without a key")                                  \
  F(T, choice, unit, "", required, 0, 0, 0, energy, temp_unit, "of its numbers")
STEADING_STRUCT(temp_column, STEADING_TEMP_COLUMN)

extern const char *const steading_choices_wind_unit[];
#define STEADING_WIND_COLUMN(F, T)                                                                 \
  F(T, text, name, "", required, 0, 0, 0, energy, none,                                            \
    "what the column is called; may stand first, without a key")                                  \
  F(T, choice, unit, "", required, 0, 0, 0, energy, wind_unit, "of its numbers")
STEADING_STRUCT(wind_column, STEADING_WIND_COLUMN)

#define STEADING_TABLE_COLUMNS(F, T)                                                               \
  F(T, text, date, "", optional, 0, 0, 0, energy, none,                                            \
    "name of a column of dates, if that of time holds the clock alone; time_format is then that " \
    "of date, a blank and time")                                                                  \
  F(T, text, time, "", required, 0, 0, 0, energy, none, "name of the column of time stamps")       \
  F(T, record, ghi, "", optional, 0, 0, 0, energy, light_column,                                   \
    "global on the horizontal; absent: from dni and dhi")                                         \
  F(T, record, dni, "", optional, 0, 0, 0, energy, light_column, "direct, normal to the sun")      \
  F(T, record, dhi, "", optional, 0, 0, 0, energy, light_column,                                   \
    "diffuse on the horizontal; absent: from ghi and dni, else Erbs et al. 1982")                 \
  F(T, record, temp, "", required, 0, 0, 0, energy, temp_column, "air temperature")                \
  F(T, record, wind, "", optional, 0, 0, 0, energy, wind_column, "speed of the wind")
STEADING_STRUCT(table_columns, STEADING_TABLE_COLUMNS)

extern const char *const steading_choices_interval[];
extern const char *const steading_choices_weather_checks[];
#define STEADING_READ_FIELDS(F, T)                                                                 \
  F(T, record, place, "", optional, 0, 0, 0, energy, place_fields,                                 \
    "where a plain table lies; of a file that says where it is only time_zone and record_low_c")   \
  F(T, record, columns, "", optional, 0, 0, 0, energy, table_columns,                              \
    "read it as a plain table: what its columns are called")                                      \
  F(T, text, time_format, "", optional, 0, 0, 0, energy, none,                                     \
    "of a plain table's stamps, such as \"%d.%m.%Y %H:%M\"; absent: ISO 8601")                    \
  F(T, choice, interval, "", optional, 0, 0, 0, energy, interval,                                  \
    "what a plain table's stamp is of its step; instant: values of that moment")                  \
  F(T, number, utc_offset_h, "h", optional, -12, 14, 0, energy, none,                              \
    "of stamps without their own offset from UT; beside another file: instead of what it says")   \
  F(T, count, shift_minutes, "min", standard, -1440, 1440, 0, energy, none,                        \
    "added to every stamp")                                                                       \
  F(T, words, allow, "", optional, 0, 0, 0, energy, weather_checks, "checks that are waived")
STEADING_STRUCT(read_fields, STEADING_READ_FIELDS)

/* --- primitives: what a script can ask the engine's parts directly -------------------------------- */

#define STEADING_ASK_SUN(F, T)                                                                     \
  F(T, number, latitude_deg, "deg", required, -90, 90, 0, energy, none, "north positive")          \
  F(T, number, longitude_deg, "deg", required, -180, 180, 0, energy, none, "east positive")        \
  F(T, text, utc, "", required, 0, 0, 0, energy, none, "instant, \"2003-10-17T19:30:30Z\"")        \
  F(T, number, elevation_m, "m", optional, -500, 9000, 0, energy, none,                            \
    "gives the pressure; absent: sea level")                                              \
  F(T, number, pressure_pa, "Pa", optional, 10000, 120000, 0, energy, none,                        \
    "for refraction, instead of elevation_m")      \
  F(T, number, temp_c, "C", standard, -90, 60, 12, energy, none, "for refraction")
STEADING_STRUCT(ask_sun, STEADING_ASK_SUN)

#define STEADING_ASK_PLANE(F, T)                                                                   \
  F(T, number, ghi_w_per_m2, "W/m2", required, 0, 2000, 0, energy, none, "global, horizontal")     \
  F(T, number, dni_w_per_m2, "W/m2", required, 0, 2000, 0, energy, none, "beam, normal")           \
  F(T, number, dhi_w_per_m2, "W/m2", required, 0, 2000, 0, energy, none, "diffuse, horizontal")    \
  F(T, number, zenith_deg, "deg", required, 0, 180, 0, energy, none, "of the sun")                 \
  F(T, number, sun_azimuth_deg, "deg", required, 0, 360, 0, energy, none, "of the sun")            \
  F(T, number, extraterrestrial_w_per_m2, "W/m2", required, 1000, 2000, 0, energy, none,           \
    "normal to the sun")                                                                          \
  F(T, number, tilt_deg, "deg", required, 0, 90, 0, energy, none, "of the plane")                  \
  F(T, number, azimuth_deg, "deg", required, 0, 360, 0, energy, none, "of the plane")              \
  F(T, number, albedo, "share", standard, 0, 1, 0.2, energy, none, "of the ground")                \
  F(T, choice, sky_model, "", standard, 0, 0, 0, energy, sky_model, "diffuse light on the plane")
STEADING_STRUCT(ask_plane, STEADING_ASK_PLANE)

#define STEADING_ASK_INCIDENCE(F, T)                                                               \
  F(T, choice, model, "", required, 0, 0, 0, energy, incidence, "incidence modifier")              \
  F(T, number, angle_deg, "deg", required, 0, 180, 0, energy, none, "between beam and normal")     \
  F(T, number, a_r, "", optional, 0.05, 0.5, 0, energy, none, "martin_ruiz (0.16 when absent)")    \
  F(T, number, b0, "", optional, 0, 0.3, 0, energy, none, "ashrae (0.05 when absent)")
STEADING_STRUCT(ask_incidence, STEADING_ASK_INCIDENCE)

extern const char *const steading_choices_clear_sky[];
#define STEADING_ASK_CLEAR(F, T)                                                                   \
  F(T, choice, model, "", standard, 0, 0, 0, energy, clear_sky,                                    \
    "ashrae: by two optical depths; haurwitz: the global alone, by the sun's height")             \
  F(T, number, zenith_deg, "deg", required, 0, 180, 0, energy, none, "of the sun")                 \
  F(T, count, day_of_year, "", optional, 1, 366, 0, energy, none, "ashrae: 1 is 1 January")        \
  F(T, number, tau_b, "", optional, 0.05, 2, 0, energy, none, "ashrae: optical depth of the beam") \
  F(T, number, tau_d, "", optional, 0.5, 4, 0, energy, none,                                       \
    "ashrae: optical depth of the diffuse light")                                                 \
  F(T, count, edition, "", optional, 2009, 2013, 0, energy, none,                                  \
    "ashrae: of the handbook that tau_b and tau_d are from: 2009, or 2013 for that and later ones")
STEADING_STRUCT(ask_clear, STEADING_ASK_CLEAR)

enum { STEADING_ASK_CELL_NOCT, STEADING_ASK_CELL_FAIMAN, STEADING_ASK_CELL_KING };
#define STEADING_ASK_CELL(F, T)                                                                    \
  F(T, choice, model, "", required, 0, 0, 0, energy, cell_temperature, "model")                          \
  F(T, number, plane_w_per_m2, "W/m2", required, 0, 2000, 0, energy, none, "light on the plane")   \
  F(T, number, temp_c, "C", required, -90, 60, 0, energy, none, "of the air")                      \
  F(T, number, noct_c, "C", standard, 20, 80, 45, energy, none,                                    \
    "noct: nominal operating cell temperature")                                                   \
  F(T, number, wind_m_per_s, "m/s", optional, 0, 100, 0, energy, none,                             \
    "faiman: beside the modules; king: 10 m above the ground")                                    \
  F(T, number, u0, "W/m2K", standard, 1, 200, 25, energy, none,                                    \
    "faiman: heat that leaves without wind (default: typical of Faiman 2008)")                    \
  F(T, number, u1, "W s/m3K", standard, 0, 50, 6.84, energy, none,                                 \
    "faiman: more of it for each m/s (default: typical of Faiman 2008)")                          \
  F(T, choice, mounting, "", optional, 0, 0, 0, energy, mounting,                             \
    "king: the row of table 1 of King et al. 2004")                                               \
  F(T, number, a, "", optional, -10, 0, 0, energy, none,                                           \
    "king, instead of mounting: logarithm of the back's heating without wind, K m2/W")            \
  F(T, number, b, "s/m", optional, -1, 0, 0, energy, none,                                         \
    "king, instead of mounting: what the wind changes of it")                                     \
  F(T, number, above_back_c, "K", optional, 0, 30, 0, energy, none,                                \
    "king, instead of mounting: cell above back at 1000 W/m2")
STEADING_STRUCT(ask_cell, STEADING_ASK_CELL)

#define STEADING_ASK_INVERTER(F, T)                                                                \
  F(T, record, unit, "", required, 0, 0, 0, energy, unit, "one unit")                              \
  F(T, numbers, shares, "share", optional, 0.001, 1, 0, energy, none,                              \
    "of ac_kw at which the efficiency is wanted")                                                 \
  F(T, number, temp_c, "C", optional, -90, 60, 0, energy, none,                                    \
    "air temperature at which the AC power is wanted")
STEADING_STRUCT(ask_inverter, STEADING_ASK_INVERTER)
#define STEADING_ASK_DATASHEET(F, T)                                                               \
  F(T, number, isc_a, "A", required, 1e-6, 1000, 0, energy, none, "short-circuit current")         \
  F(T, number, voc_v, "V", required, 1e-3, 1000, 0, energy, none, "open-circuit voltage")          \
  F(T, number, imp_a, "A", required, 1e-6, 1000, 0, energy, none, "current at maximum power")      \
  F(T, number, vmp_v, "V", required, 1e-3, 1000, 0, energy, none, "voltage at maximum power")      \
  F(T, number, isc_a_per_c, "A/K", required, -5, 5, 0, energy, none,                               \
    "change of isc_a with cell temperature (a sheet's %/K times isc_a / 100)")                    \
  F(T, number, voc_v_per_c, "V/K", required, -10, 0, 0, energy, none,                              \
    "change of voc_v with cell temperature (a sheet's %/K times voc_v / 100)")                    \
  F(T, count, cells, "", required, 1, 1000, 0, energy, none,                                       \
    "in series; of a module of half cells, half of them")
STEADING_STRUCT(ask_datasheet, STEADING_ASK_DATASHEET)

#define STEADING_ASK_PARAMETERS(F, T)                                                              \
  F(T, number, light_a, "A", required, 0, 1000, 0, energy, none, "photocurrent at 1000 W/m2")      \
  F(T, number, dark_a, "A", required, 1e-30, 1, 0, energy, none, "saturation current of the diode") \
  F(T, number, series_ohm, "ohm", required, 0, 1000, 0, energy, none, "series resistance")         \
  F(T, number, shunt_ohm, "ohm", optional, 1e-3, 1e12, 0, energy, none,                            \
    "resistance beside the diode at 1000 W/m2; absent: none")                                     \
  F(T, number, slope_v, "V", required, 1e-3, 1000, 0, energy, none,                                \
    "ideality times cells in series times kT/q")                                                  \
  F(T, number, isc_a_per_c, "A/K", optional, -5, 5, 0, energy, none,                               \
    "change of isc_a with cell temperature; goes with cell_c")
STEADING_STRUCT(ask_parameters, STEADING_ASK_PARAMETERS)

#define STEADING_ASK_CURVE(F, T)                                                                   \
  F(T, record, datasheet, "", optional, 0, 0, 0, energy, ask_datasheet,                            \
    "what a module's sheet says of 1000 W/m2 and 25 C")                                           \
  F(T, record, parameters, "", optional, 0, 0, 0, energy, ask_parameters,                          \
    "the five numbers instead of a sheet")                                                        \
  F(T, number, plane_w_per_m2, "W/m2", standard, 0, 2000, 1000, energy, none,                      \
    "light on the cells")                                                                         \
  F(T, number, cell_c, "C", standard, -60, 150, 25, energy, none,                                  \
    "of the cells; absent beside parameters: that at which they hold")
STEADING_STRUCT(ask_diode, STEADING_ASK_CURVE)

#define STEADING_ASK_STRING_GROUP(F, T)                                                            \
  STEADING_ASK_CURVE(F, T)                                                                         \
  F(T, count, in_series, "", required, 1, 1000, 0, energy, none, "modules of a string")            \
  F(T, count, in_parallel, "", standard, 1, 1e5, 1, energy, none, "strings side by side")
STEADING_STRUCT(ask_string_group, STEADING_ASK_STRING_GROUP)

#define STEADING_ASK_STRINGS(F, T)                                                                 \
  F(T, list, groups, "", required, 0, 0, 0, energy, ask_string_group,                              \
    "equal strings in the same light; at most 16 groups")                                         \
  F(T, pair, window_v, "V", optional, 0, 5000, 0, energy, none,                                    \
    "voltages between which the input works; absent: any")                                        \
  F(T, number, most_a, "A", optional, 0, 1e6, 0, energy, none, "most current of the input")        \
  F(T, number, most_kw, "kW", optional, 0, 1e6, 0, energy, none, "most power of the input")
STEADING_STRUCT(ask_strings, STEADING_ASK_STRINGS)

#define STEADING_ASK_ENERGY(F, T)                                                                  \
  STEADING_BATTERY_POWERS(F, T)                                                                    \
  STEADING_BATTERY_EFFICIENCIES(F, T)                                                              \
  F(T, record, resistance, "", optional, 0, 0, 0, energy, resistance_fields,                       \
    "losses by resistance, instead of efficiencies")                                              \
  F(T, number, standby_w, "W", standard, 0, 1e4, 0, energy, none,                                  \
    "draw of its own electronics, from its store")                                                 \
  F(T, record, taper, "", optional, 0, 0, 0, energy, taper_fields,                                 \
    "how its charging power falls near full; absent: not at all")                                  \
  F(T, points, charge_share_at_c, "share", optional, 0, 1, 0, energy, none,                        \
    "what its temperature leaves of charge_kw: { { 0, 0 }, { 10, 1 } }")                           \
  F(T, points, usable_share_at_c, "share", optional, 0, 1, 0, energy, none,                        \
    "what its temperature leaves of kwh")                                                          \
  F(T, number, temp_c, "C", optional, -60, 120, 0, energy, none, "of its cells; for those two")    \
  F(T, number, state_of_charge, "share", optional, 0, 1, 0, energy, none,                          \
    "at the beginning; absent: half way between the ends of usable")
STEADING_STRUCT(ask_energy, STEADING_ASK_ENERGY)

#define STEADING_ASK_TWO_TANK(F, T)                                                                \
  F(T, number, kwh, "kWh", optional, 1e-6, 1e6, 0, energy, none,                                   \
    "what it gives when emptied endlessly slowly")                                                \
  F(T, number, available_share, "share", optional, 0.001, 0.999, 0, energy, none,                  \
    "size of the tank at the terminals: c of Manwell and McGowan 1993")                            \
  F(T, number, per_h, "1/h", optional, 1e-6, 1e4, 0, energy, none,                                 \
    "rate at which the tanks come level: k of Manwell and McGowan 1993")                           \
  F(T, list, rates, "", optional, 0, 0, 0, energy, capacity_rate,                                  \
    "capacities of a data sheet instead: three, or two beside kwh")                                \
  F(T, pair, usable, "share", standard, 0, 1, 0, energy, none,                                     \
    "lowest and highest charge that its controller allows, of kwh")                                \
  F(T, number, charge_kw, "kW", standard, 0, 1e5, INFINITY, energy, none,                          \
    "most charging power, at its terminals; absent: what the tanks take")                          \
  F(T, number, discharge_kw, "kW", standard, 0, 1e5, INFINITY, energy, none,                       \
    "most discharging power, at its terminals; absent: what the tanks give")                       \
  STEADING_BATTERY_EFFICIENCIES(F, T)                                                              \
  F(T, record, gassing, "", optional, 0, 0, 0, energy, gassing_fields,                             \
    "charge that is lost near full; absent: none")                                                \
  F(T, number, state_of_charge, "share", optional, 0, 1, 0, energy, none,                          \
    "at the beginning, both tanks level; absent: half way between the ends of usable")
STEADING_STRUCT(ask_two_tank, STEADING_ASK_TWO_TANK)

#define STEADING_ASK_BILL(F, T)                                                                    \
  F(T, record, tariff, "", required, 0, 0, 0, money, tariff, "a meter's tariff")                   \
  F(T, date, month, "", required, 0, 0, 0, money, none, "the month, \"2027-01\"")                  \
  F(T, count, days, "", optional, 1, 366, 0, money, none,                                          \
    "days that are billed; absent: those of the month")                                           \
  F(T, amounts, kwh, "kWh", required, 0, 1e12, 0, money, none,                                     \
    "imported; by period where the tariff has periods")                                           \
  F(T, amounts, export_kwh, "kWh", optional, 0, 1e12, 0, money, none, "exported, in the same form") \
  STEADING_LATER(F, T, peak_kw, "demand charges")
STEADING_STRUCT(ask_bill, STEADING_ASK_BILL)

#define STEADING_ASK_BILLS(F, T)                                                                   \
  F(T, record, tariff, "", required, 0, 0, 0, money, tariff, "a meter's tariff")                   \
  F(T, date, from, "", required, 0, 0, 0, money, none,                                             \
    "the first day, at 00:00 civil time")                                                         \
  F(T, numbers, kw, "kW", required, -1e9, 1e9, 0, money, none,                                     \
    "mean power of each step, import above 0, export below; no step lies on a 29 February")       \
  F(T, count, step_minutes, "min", standard, 1, 60, 60, money, none,                               \
    "step of the numbers: 60, 30, 15, 10, 5 or 1")                                                \
  F(T, text, time_zone, "", optional, 0, 0, 0, money, none,                                        \
    "zone name of civil time; absent: one time all year")
STEADING_STRUCT(ask_bills, STEADING_ASK_BILLS)

#define STEADING_ASK_FUEL(F, T)                                                                    \
  F(T, text, fuel, "", required, 0, 0, 0, energy, none,                                            \
    "propane, natural_gas, petrol or diesel")                                                     \
  F(T, number, litres, "l", optional, 0, 1e12, 0, energy, none, "one of these amounts: litres")    \
  F(T, number, gallons, "gal", optional, 0, 1e12, 0, energy, none, "US gallons")                   \
  F(T, number, kg, "kg", optional, 0, 1e12, 0, energy, none, "kilograms")                          \
  F(T, number, pounds, "lb", optional, 0, 1e12, 0, energy, none, "pounds")                         \
  F(T, number, cubic_feet, "ft3", optional, 0, 1e12, 0, energy, none,                              \
    "of natural_gas, at 60 F and 1 atmosphere")                                                   \
  F(T, number, kwh, "kWh", optional, 0, 1e12, 0, energy, none, "gross energy")
STEADING_STRUCT(ask_fuel, STEADING_ASK_FUEL)

#define STEADING_ASK_FUEL_CURVE(F, T)                                                              \
  F(T, numbers, kw, "kW", required, 0, 1e4, 0, energy, none, "powers of a data sheet, two or more") \
  F(T, numbers, l_per_h, "l/h", required, 0, 1e6, 0, energy, none, "litres an hour at each")
STEADING_STRUCT(ask_fuel_curve, STEADING_ASK_FUEL_CURVE)

#define STEADING_ASK_PUMP(F, T)                                                                    \
  F(T, number, flow_l_per_min, "l/min", required, 0.01, 1e5, 0, energy, none, "flow")              \
  F(T, number, head_m, "m", required, 0.1, 2000, 0, energy, none, "total pumping head")            \
  F(T, number, efficiency, "share", required, 0.01, 1, 0, energy, none, "wire to water")
STEADING_STRUCT(ask_pump, STEADING_ASK_PUMP)

#define STEADING_ASK_INTERRUPTION(F, T)                                                            \
  F(T, number, minutes, "min", required, 0, 1e9, 0, energy, none, "how long it lasted")            \
  F(T, number, customers, "", required, 0, 1e12, 0, energy, none, "how many it hit")
STEADING_STRUCT(ask_interruption, STEADING_ASK_INTERRUPTION)

#define STEADING_ASK_INDICES(F, T)                                                                 \
  F(T, number, customers, "", required, 1e-9, 1e12, 0, energy, none, "all that are served")        \
  F(T, list, events, "", required, 0, 0, 0, energy, ask_interruption, "the interruptions")         \
  F(T, number, longer_than_min, "min", optional, 0, 1e6, 0, energy, none,                          \
    "shorter ones and those that last just as long do not count: 5 for the sustained ones of "     \
    "IEEE 1366; absent: all count")                                                                \
  F(T, number, hours, "h", standard, 1, 1e7, 8760, energy, none, "of the time that is judged")
STEADING_STRUCT(ask_indices, STEADING_ASK_INDICES)

/* --- what is asked of a run's steps --------------------------------------------------------------- */

extern const char *const steading_choices_keep_serving[];
enum { STEADING_KEEP_SERVING_ALL, STEADING_KEEP_SERVING_ESSENTIAL, STEADING_KEEP_SERVING_WATER };
#define STEADING_ASK_RIDE(F, T)                                                                    \
  F(T, numbers, last_hours, "h", optional, 0.01, 8760, 0, energy, none,                            \
    "lengths of an outage, whole steps; absent: 4, 12, 24, 72, 168")                               \
  F(T, count, years, "years", standard, 1, 100, 5, energy, none,                                   \
    "how many years of starts; one more is simulated")                                             \
  F(T, numbers, start_hours, "", optional, 0, 23, 0, energy, none,                                 \
    "civil hours in which outages start; absent: all 24")                                          \
  F(T, choice, keep_serving, "", standard, 0, 0, 0, energy, keep_serving,                          \
    "what must not fail: all loads behind hubs, those of class essential, or users' water")        \
  F(T, date, start, "", optional, 0, 0, 0, energy, none,                                           \
    "first day, the first of a month; absent: the date of the earliest lot")                       \
  F(T, count, step_minutes, "min", standard, 1, 60, 60, energy, none,                              \
    "length of a step: 60, 30, 15, 10, 5 or 1")                                                    \
  F(T, record, initial, "", standard, 0, 0, 0, energy, initial, "state at the start of the first year")
STEADING_STRUCT(ask_ride, STEADING_ASK_RIDE)

extern const char *const steading_choices_event_kind[];
#define STEADING_ASK_EVENTS(F, T)                                                                  \
  F(T, choice, kind, "", required, 0, 0, 0, energy, event_kind, "what makes a step count")         \
  F(T, number, join_hours, "h", standard, 0, 8760, 0, energy, none,                                \
    "two spells with less than this between them are one")                                        \
  F(T, number, least_kwh, "kWh", standard, 0, 1e9, 0, energy, none,                                \
    "spells with less are left out; of an outage: what was left unserved in it")                  \
  F(T, number, least_l, "l", standard, 0, 1e12, 0, energy, none,                                   \
    "the same of the kind water_short")                                                           \
  F(T, number, above_kw, "kW", standard, 0, 1e6, 0, energy, none,                                  \
    "a step counts when its mean import or unserved power is above this")
STEADING_STRUCT(ask_events, STEADING_ASK_EVENTS)

#define STEADING_ASK_WORST(F, T)                                                                   \
  F(T, count, days, "days", standard, 1, 3650, 7, energy, none, "whole days in a row")             \
  F(T, text, column, "", optional, 0, 0, 0, energy, none,                                          \
    "column of run.steps whose sum is looked at; absent: grid_import_kwh")                        \
  F(T, count, count, "", standard, 1, 10000, 5, energy, none, "how many windows")
STEADING_STRUCT(ask_worst, STEADING_ASK_WORST)

extern const char *const steading_choices_profile_by[];
#define STEADING_ASK_PROFILE(F, T)                                                                 \
  F(T, texts, columns, "", required, 0, 0, 0, energy, none, "columns of run.steps")                \
  F(T, words, by, "", required, 0, 0, 0, energy, profile_by,                                       \
    "parts of civil time by which steps are grouped; a weekday is 1 (Monday) to 7")
STEADING_STRUCT(ask_profile, STEADING_ASK_PROFILE)

#define STEADING_ASK_DURATION(F, T)                                                                \
  F(T, text, column, "", optional, 0, 0, 0, energy, none,                                          \
    "column of run.steps, an energy with _kw for _kwh; absent: load_kw")                          \
  F(T, count, points, "", standard, 2, 100001, 101, energy, none,                                  \
    "how many shares of time, evenly from 0 to 1")
STEADING_STRUCT(ask_duration, STEADING_ASK_DURATION)

#endif
