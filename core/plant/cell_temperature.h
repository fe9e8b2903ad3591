/* How warm the cells of a module are.
 *
 *   noct    Tc = Ta + (NOCT - 20) / 800 G
 *   faiman  T = Ta + G / (u0 + u1 v)
 *   king    Tm = Ta + G exp(a + b v), Tc = Tm + G / 1000 d
 *
 * noct: Ross 1976, with the nominal operating cell temperature of the sheet; knows no wind. faiman:
 * Faiman 2008, the form of IEC 61853-2. king: King, Boyson and Kratochvil 2004, SAND2004-3535, eqs.
 * 11 and 12, table 1.
 *
 * Ta is the air's temperature, G the light on the plane before reflection, v the wind. King's wind
 * is that at 10 m, as weather files carry it; Faiman's is that beside the modules, so that with a
 * wind of 10 m his model errs to the cold. Faiman's temperature is that of the module's back, used
 * for that of the cells. */
#ifndef STEADING_PLANT_CELL_TEMPERATURE_H
#define STEADING_PLANT_CELL_TEMPERATURE_H

typedef enum steading_cell_model {
  STEADING_CELL_NOCT,
  STEADING_CELL_FAIMAN,
  STEADING_CELL_KING
} steading_cell_model;

/* The rows of King's table 1, in words; 'sheet' is a polymer sheet. */
#define STEADING_KING_LIST(ROW)                                                       \
  ROW(GLASS_BACK_OPEN_RACK, "glass_back_open_rack", -3.47, -0.0594, 3)                \
  ROW(GLASS_BACK_CLOSE_TO_ROOF, "glass_back_close_to_roof", -2.98, -0.0471, 1)        \
  ROW(SHEET_BACK_OPEN_RACK, "sheet_back_open_rack", -3.56, -0.0750, 3)                \
  ROW(SHEET_BACK_INSULATED, "sheet_back_insulated", -2.81, -0.0455, 0)                \
  ROW(THIN_FILM_ON_STEEL_OPEN_RACK, "thin_film_on_steel_open_rack", -3.58, -0.113, 3) \
  ROW(CONCENTRATOR_ON_TRACKER, "concentrator_on_tracker", -3.23, -0.130, 13)

#define STEADING_KING_NAME(id, name, a, b_per_m_s, above_back_c) STEADING_KING_##id,
typedef enum steading_king_mounting {
  STEADING_KING_LIST(STEADING_KING_NAME) STEADING_KING_MOUNTINGS
} steading_king_mounting;
#undef STEADING_KING_NAME

typedef struct steading_king_row {
  const char *name; /* plain word for scripts */
  double a, b_per_m_s, above_back_c;
} steading_king_row;

extern const steading_king_row steading_king_rows[STEADING_KING_MOUNTINGS];

/* Typical module of Faiman 2008 (from memory): W/m2K and W s/m3K. */
#define STEADING_FAIMAN_U0 25.0
#define STEADING_FAIMAN_U1 6.84

typedef struct steading_cell_heating {
  steading_cell_model model;
  double noct_c;       /* noct: 20..80 */
  double u0, u1;       /* faiman: u0 > 0, u1 >= 0 */
  double a, b_per_m_s; /* king */
  double above_back_c; /* king: cell above back at 1000 W/m2 */
} steading_cell_heating;

/* King's model with the row of a mounting. */
steading_cell_heating steading_cell_heating_king(steading_king_mounting mounting);

/* Cell temperature, C. plane_w_per_m2 and wind_m_per_s below 0 count as 0. */
double steading_cell_temperature_c(const steading_cell_heating *heating, double temp_c,
                                   double plane_w_per_m2, double wind_m_per_s);

#endif
