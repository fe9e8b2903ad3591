/* Rows of modules that shade each other: equal rows without end, one behind the other on level
 * ground, their lower edges at the ground.
 *
 * All lengths are in slants of a row: `pitch` is the distance of the rows over the ground divided
 * by the slant length of one, above the cosine of the tilt (rows that do not lie over each other).
 * The sun enters as two numbers that a yield has anyway, so that a step costs one division: `up`,
 * the cosine of the zenith, and the cosine of incidence on the rows. With the profile angle p of
 * the sun (tan p = up / component along the rows' azimuth) and the tilt b, incidence is
 * proportional to sin(p + b) as `up` is to sin p, and the well-known share of the rear row's slant
 * in the shade, 1 - pitch sin p / sin(p + b), is 1 - pitch up / cos_incidence. The same holds for
 * trackers on sloped axes with `up` taken square to the plane of their axes.
 *
 * Views are those of surfaces without end across the section, by crossed strings (Hottel 1954): the
 * mean over a slant of (1 + cos(b + mask angle)) / 2, with the mask angle of Passias and Kallback
 * 1984, in closed form.
 * The first row, which has none before it, counts as a row among others: `rows_mean` corrects it.
 */
#ifndef STEADING_RESOURCE_ROWS_H
#define STEADING_RESOURCE_ROWS_H

/* Profile angle of the sun, degrees -90..90 and beyond for a sun behind the rows (90..180): angle
 * above the ground in the section square to the rows. `from_azimuth_deg` is the sun's azimuth less
 * the rows'. Duffie and Beckman, Solar Engineering of
 * Thermal Processes, section 1.9. */
double steading_rows_profile_deg(double elevation_deg, double from_azimuth_deg);

/* Share 0..1 of a row's slant, from its lower edge, that the row before shades from the beam. 1
 * with the sun at or below the ground, 0 where the beam does not reach the front (cos_incidence <=
 * 0): nothing is there to be shaded. */
double steading_rows_shaded_share(double pitch, double up, double cos_incidence);

/* The share of beam light on a row that its modules lose: a shaded module passes its string's
 * current through a bypass diode, so that each of `sections` equal parts across the slant (number
 * of modules across it x parts of a module that shade across it bypasses; 1: shade anywhere costs
 * the whole) counts as shaded as soon as shade reaches it. 0 sections: as much as is shaded.
 * Common practice, no source. */
double steading_rows_beam_lost(double shaded_share, int sections);

/* A share or a mean of rows without end, for `rows` of them of which the first is as in the open:
 * (with + ... + with + open) / rows. */
double steading_rows_mean(double among_rows, double in_the_open, double rows);

/* Angle above the ground, degrees, under which the upper edge of the row before is seen from a
 * place on the slant (0: lower edge, 1: upper edge). */
double steading_rows_mask_deg(double pitch, double tilt_deg, double place);

/* The smallest pitch without shade for a sun at this profile angle (above 0):
 * cos b + sin b / tan p. */
double steading_rows_clear_pitch(double tilt_deg, double profile_deg);

/* What a row's front sees on the mean of its slant, and what the ground between the rows sees. */
typedef struct steading_rows_view {
  double sky;        /* against (1 + cos b) / 2 in the open */
  double ground;     /* against (1 - cos b) / 2 in the open; lit between the rows alone */
  double row_before; /* the rest: its back, which reflects next to nothing */
  double ground_sky; /* sky that the ground between the rows sees, against 1 in the open */
} steading_rows_view;

/* `cos_tilt` and `sin_tilt` of a tilt of 0..90 degrees. */
void steading_rows_view_of(double pitch, double cos_tilt, double sin_tilt,
                           steading_rows_view *view);

/* Share 0..1 of the ground between the rows that the beam reaches; the front or the back of the
 * rows may face the sun. 0 with the sun at or below the ground. */
double steading_rows_ground_lit(double pitch, double up, double cos_incidence);

#endif
