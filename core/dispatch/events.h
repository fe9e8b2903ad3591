/* Spells of a run: steps in a row, or nearly so, in which something happened. */
#ifndef STEADING_DISPATCH_EVENTS_H
#define STEADING_DISPATCH_EVENTS_H

#include "dispatch/run.h"
#include "site/fields.h"

/* In the order of the words of ask_events.kind. */
typedef enum steading_event_kind {
  STEADING_EVENT_IMPORT,      /* something is imported, over all meters */
  STEADING_EVENT_UNSERVED,    /* something is left unserved, anywhere on the site */
  STEADING_EVENT_WATER_SHORT, /* users of any tank get less water than they want */
  STEADING_EVENT_OUTAGE,      /* the grid of a meter is down; each meter has its own spells */
  STEADING_EVENT_GENERATOR    /* a generator runs, whichever */
} steading_event_kind;

/* Of a water spell `amount` is in litres and `peak` in litres per hour; of an outage both are what
 * is left unserved on that meter and in its hubs, of a generator what it gives. Amount, peak,
 * what is shed and what is lowest are those of the steps in which it happened, not of the gaps
 * between. */
typedef struct steading_event {
  size_t first, last;   /* steps of the run */
  size_t steps;         /* in which it happened: first, last and others between */
  int meter;            /* index; -1 but of an outage */
  double amount, peak;  /* kWh and kW */
  double shed_kwh;      /* beside what is unserved: of an outage that of the meter's hubs */
  double lowest_charge; /* of any hub (of an outage: of that meter), at the end of a step; NaN
                           without a battery */
  double lowest_tank;   /* share, of any tank; NaN without one */
} steading_event;

typedef struct steading_events {
  size_t count;
  steading_event *items; /* in order of their first step, then of meters */
} steading_events;

/* Repeat a run and find its spells. Two with less than join_hours between the end of one and the
 * beginning of the next are one; those with less than least_kwh or least_l are left out. A step
 * counts when its mean power is above above_kw and above 1e-9 kW. */
steading_status steading_run_events(const steading_run *run, const steading_ask_events *ask,
                                    steading_events *events, steading_error *error);

void steading_events_free(steading_events *events);

#endif
