/* Help pages made from the field tables. */
#ifndef STEADING_COMMAND_HELP_H
#define STEADING_COMMAND_HELP_H

/* The list of topics. */
int steading_help_topics(void);

/* The fields of a topic ("site", "battery" ...); "manual" prints all of them as a manual page. */
int steading_help_topic(const char *name);

#endif
