#include "plant/cell_temperature.h"

#include <math.h>

const steading_king_row steading_king_rows[STEADING_KING_MOUNTINGS] = {
    [STEADING_KING_GLASS_BACK_OPEN_RACK] = {"glass_back_open_rack", -3.47, -0.0594, 3},
    [STEADING_KING_GLASS_BACK_CLOSE_TO_ROOF] = {"glass_back_close_to_roof", -2.98, -0.0471, 1},
    [STEADING_KING_SHEET_BACK_OPEN_RACK] = {"sheet_back_open_rack", -3.56, -0.0750, 3},
    [STEADING_KING_SHEET_BACK_INSULATED] = {"sheet_back_insulated", -2.81, -0.0455, 0},
    [STEADING_KING_THIN_FILM_ON_STEEL_OPEN_RACK] = {"thin_film_on_steel_open_rack", -3.58, -0.113,
                                                    3},
    [STEADING_KING_CONCENTRATOR_ON_TRACKER] = {"concentrator_on_tracker", -3.23, -0.130, 13}};

steading_cell_heating steading_cell_heating_king(steading_king_mounting mounting) {
  const steading_king_row *row = &steading_king_rows[mounting];
  return (steading_cell_heating){.model = STEADING_CELL_KING,
                                 .a = row->a,
                                 .b_per_m_s = row->b_per_m_s,
                                 .above_back_c = row->above_back_c};
}

double steading_cell_temperature_c(const steading_cell_heating *heating, double temp_c,
                                   double plane_w_per_m2, double wind_m_per_s) {
  double light = fmax(plane_w_per_m2, 0), wind = fmax(wind_m_per_s, 0);
  switch (heating->model) {
    case STEADING_CELL_NOCT:
      return temp_c + (heating->noct_c - 20) / 800 * light;
    case STEADING_CELL_FAIMAN:
      return temp_c + light / (heating->u0 + heating->u1 * wind);
    case STEADING_CELL_KING:
      return temp_c + light * exp(heating->a + heating->b_per_m_s * wind) +
             light / 1000 * heating->above_back_c;
  }
  return temp_c;
}
