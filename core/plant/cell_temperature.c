#include "plant/cell_temperature.h"

#include <math.h>

#define KING_ROW(id, name, a, b_per_m_s, above_back_c) \
  [STEADING_KING_##id] = {name, a, b_per_m_s, above_back_c},
const steading_king_row steading_king_rows[STEADING_KING_MOUNTINGS] = {
    STEADING_KING_LIST(KING_ROW)};

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
