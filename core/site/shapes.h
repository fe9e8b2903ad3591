/* Named shapes of a day: 24 numbers, hour 0 first. */
#ifndef STEADING_SITE_SHAPES_H
#define STEADING_SITE_SHAPES_H

/* The 24 numbers of a shape, or NULL. */
const double *steading_shape(const char *name);

/* The names that exist, for messages: "dwelling, even". */
const char *steading_shape_names(void);

#endif
