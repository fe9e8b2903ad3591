/* Most parts of a kind that a site has; more is an error that says how many were found. */
#ifndef STEADING_SITE_LIMITS_H
#define STEADING_SITE_LIMITS_H

enum {
  STEADING_MOST_HUBS = 16,
  STEADING_MOST_METERS = 16,
  STEADING_MOST_BATTERIES = 24, /* kinds of modules of all hubs */
  STEADING_MOST_WELLS = 16,
  STEADING_MOST_TANKS = 32,
  STEADING_MOST_FUELS = 8,
  STEADING_MOST_ARRAYS = 64, /* of a hub */
  STEADING_MOST_SKYLINE_POINTS = 360, /* of an array */
  STEADING_MOST_STRING_GROUPS = 16 /* on an input */
};

#endif
