/* Memory that is given back all at once: for trees that are built, read and dropped. */
#ifndef STEADING_ARENA_H
#define STEADING_ARENA_H

#include <stddef.h>

typedef struct steading_arena {
  struct steading_arena_block *blocks;
} steading_arena;

/* `size` bytes set to zero, aligned for any type; NULL when memory ends. */
void *steading_arena_take(steading_arena *arena, size_t size);

/* A copy of `length` bytes of text with a NUL behind; NULL when memory ends. */
char *steading_arena_text(steading_arena *arena, const char *text, size_t length);

/* Free all of it; the arena may be used again. */
void steading_arena_drop(steading_arena *arena);

#endif
