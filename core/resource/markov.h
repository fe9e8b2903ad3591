/* Days that follow each other as ten Markov chains of daily clearness (the day's global over what
 * reaches the top of the atmosphere, on the horizontal).
 *
 * Aguiar, Collares-Pereira and Conde 1988, "Simple procedure for generating sequences of daily
 * radiation values using a library of Markov transition matrices", Solar Energy 40, 269-279. Each
 * chain belongs to a class of the month's mean clearness. Its ten states are equal tenths of the
 * range between its lowest and its highest day; within a state clearness is uniform. */
#ifndef STEADING_RESOURCE_MARKOV_H
#define STEADING_RESOURCE_MARKOV_H

enum { STEADING_CHAINS = 10, STEADING_CHAIN_STATES = 10 };

typedef struct steading_chain {
  double lowest, highest; /* of daily clearness */
  double share[STEADING_CHAIN_STATES]
              [STEADING_CHAIN_STATES]; /* [yesterday][today], rows sum to 1 */
} steading_chain;

/* Number 1..10 of the chain of a month of mean clearness 0..1: classes end at 0.30, 0.35 .. 0.70,
 * the end belonging to the class. */
int steading_chain_of_month(double mean);

/* The chain of a number 1..10. */
steading_chain steading_chain_numbered(int number);

/* State 0..9 in which a clearness lies; what is outside the chain's range is in the outer ones. */
int steading_chain_state(const steading_chain *chain, double clearness);

/* The clearness at a state 0..10, with its fraction. */
double steading_chain_clearness(const steading_chain *chain, double state);

/* The clearness of a day whose state has these shares, for uniform u_state and u_within in (0, 1).
 * With chain->share[steading_chain_state(chain, yesterday)] it is the day after `yesterday`. */
double steading_chain_draw(const steading_chain *chain, const double share[STEADING_CHAIN_STATES],
                           double u_state, double u_within);

/* Shares of the states a day later. */
void steading_chain_step(const steading_chain *chain, const double share[STEADING_CHAIN_STATES],
                         double next[STEADING_CHAIN_STATES]);

/* The same day's shares among the states of another chain. */
void steading_chain_carry(const steading_chain *from, const double share[STEADING_CHAIN_STATES],
                          const steading_chain *to, double carried[STEADING_CHAIN_STATES]);

#endif
