/* From records back to what a script would hand over: the reverse of the spec reader. */
#ifndef STEADING_SITE_WRITE_H
#define STEADING_SITE_WRITE_H

#include <stdint.h>

#include "arena.h"
#include "site/spec.h"
#include "site/value.h"
#include "status.h"

/* The tree of a record, in `arena` (texts and the weather point into the record, which must outlive
 * the tree). Only fields that were given stand in it, so that defaults stay defaults; read by the
 * record's spec it gives the same fields to the bit. What can be written in several ways comes in
 * one form: dates with their day, a shape by its name where it has one, a value of twelve equal
 * months as one number, windows as a text where hours say all, words and days of the year as lists.
 * NO_MEMORY or OK. */
steading_status steading_spec_write(const void *record, steading_arena *arena,
                                    steading_value *value);

/* The same of one field, whose value stands at `place`. A NULL pointer gives false for a record and
 * the kind NONE for anything else. */
steading_status steading_field_write(const steading_field *field, const void *place,
                                     steading_arena *arena, steading_value *value);

/* "2027-01-15" of a day number, into `text`. */
void steading_write_date(int64_t day_number, char text[16]);

#endif
