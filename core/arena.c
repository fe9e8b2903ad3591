#include "arena.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

typedef struct steading_arena_block {
  struct steading_arena_block *next;
  size_t used, size;
  max_align_t bytes[];
} block;

enum { LEAST_BLOCK = 16384 };

void *steading_arena_take(steading_arena *arena, size_t size) {
  const size_t unit = sizeof(max_align_t);
  block *top = arena->blocks;
  void *place = NULL;
  if (size > SIZE_MAX / 2) return NULL;
  size = (size + unit - 1) / unit * unit;
  if (top == NULL || top->size - top->used < size) {
    size_t room = size > LEAST_BLOCK ? size : LEAST_BLOCK;
    top = calloc(1, sizeof(block) + room);
    if (top == NULL) return NULL;
    top->size = room;
    top->next = arena->blocks;
    arena->blocks = top;
  }
  place = (char *)top->bytes + top->used;
  top->used += size;
  return place;
}

char *steading_arena_text(steading_arena *arena, const char *text, size_t length) {
  char *copy = steading_arena_take(arena, length + 1);
  if (copy != NULL) memcpy(copy, text, length);
  return copy;
}

void steading_arena_drop(steading_arena *arena) {
  while (arena->blocks != NULL) {
    block *next = arena->blocks->next;
    free(arena->blocks);
    arena->blocks = next;
  }
}
