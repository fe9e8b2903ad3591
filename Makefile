# steading: build, test and show. `make help` lists the targets.
#
# One file, no recursion except for `asan`, which is the same build in another mode. Objects live
# in build/<mode>/, so that modes do not disturb each other.

export WEATHER
MODE  ?= release
BUILD := build/$(MODE)

# What the two main targets need from Debian. `demo` needs only what it runs.
PACKAGES_DEMO  := pkg-config liblua5.4-dev libcsv-dev nettle-dev tzdata
PACKAGES_CHECK := $(PACKAGES_DEMO) check
PACKAGES_LINT  := clang-tidy cppcheck lua-check
PACKAGES_EXTRA := coinor-libclp-dev liberfa-dev
PACKAGES_FUZZ  := clang libclang-rt-14-dev

STD  := -std=c11 -D_GNU_SOURCE -ffp-contract=off -fno-math-errno -fno-trapping-math
# -Wconversion and -Wshadow: a lost digit or a hidden name is a wrong result here, not a style.
WARN := -Wall -Wextra -Wpedantic -Wconversion -Wshadow -Wstrict-prototypes -Wmissing-prototypes \
        -Wundef -Wvla -Wdouble-promotion
OPT.release := -O3 -DNDEBUG
OPT.debug   := -O0 -g3
OPT.asan    := -O1 -g3 -fno-omit-frame-pointer -fsanitize=address,undefined \
               -fno-sanitize-recover=all
OPT.fuzz    := -O2 -g3 -fno-omit-frame-pointer -fno-sanitize-recover=all \
               -fsanitize=fuzzer-no-link,address,undefined,float-cast-overflow
VERSION := 0.1.0

# Short lines; V=1 shows the commands.
Q := $(if $(V),,@)
say = @$(if $(V),true,echo '  $(1) $(2)')

# Evaluated when used: on a clean machine pkg-config itself arrives during the run.
LUA_CFLAGS   = $(shell pkg-config --cflags lua5.4)
LUA_LIBS     = $(shell pkg-config --libs lua5.4)
CHECK_CFLAGS = $(shell pkg-config --cflags check)
CHECK_LIBS   = $(shell pkg-config --libs check)
CLP_FOUND    = $(shell pkg-config --exists clp 2>/dev/null && echo yes)
ERFA_FOUND   = $(shell pkg-config --exists erfa 2>/dev/null && echo yes)
EXTRA_CFLAGS = $(if $(CLP_FOUND),-DHAVE_CLP $(shell pkg-config --cflags clp)) \
               $(if $(ERFA_FOUND),-DHAVE_ERFA $(shell pkg-config --cflags erfa))
# Only Clp itself: its shared library brings what it needs, pkg-config also asks for zlib-dev.
EXTRA_LIBS   = $(if $(CLP_FOUND),-lClp) \
               $(if $(ERFA_FOUND),$(shell pkg-config --libs erfa))

# The targets that build through a second make use all processors unless -j was given.
JOBS   := $(shell nproc 2>/dev/null || echo 2)
SUBMAKE = $(MAKE) --no-print-directory $(if $(filter -j%,$(MAKEFLAGS)),,-j$(JOBS))

ALL_CFLAGS = $(STD) $(WARN) $(OPT.$(MODE)) -Icore -MMD -MP $(CFLAGS)
ALL_LIBS   = $(LUA_LIBS) -lcsv -lnettle -lm

obj         = $(patsubst %.c,$(BUILD)/%.o,$(1))
core_src    := $(sort $(wildcard core/*.c core/*/*.c))
binding_src := $(sort $(wildcard bindings/lua/*.c))
command_src := $(sort $(wildcard bindings/command/*.c))
library_lua := $(sort $(wildcard bindings/lua/library/*.lua))
test_src    := $(sort $(wildcard tests/*.c tests/*/*.c))
test_src    := $(filter-out tests/bench/% tests/fuzz/main.c,$(test_src))
bench_src   := $(sort $(wildcard tests/bench/*.c))
all_src     := $(core_src) $(binding_src) $(command_src) $(test_src) $(bench_src)

CORE    := $(BUILD)/libsteading.a
COMMAND := $(BUILD)/steading
TESTS   := $(BUILD)/tests/run
BENCHES := $(patsubst tests/bench/%.c,$(BUILD)/tests/bench/%,$(bench_src))

.DEFAULT_GOAL := all
.DELETE_ON_ERROR:
.SUFFIXES:
.PHONY: all demo check clean help asan lint bench fuzz packages-demo packages-check packages-extra \
        packages-lint packages-fuzz manual

all: $(COMMAND)

help:
	@echo 'make            build the command, build/release/steading'
	@echo 'make demo       install what is missing, build, run the demo site (WEATHER=file for other weather)'
	@echo 'make check      install what is missing, build, run all tests (DATA=folder of weather files)'
	@echo 'make lint       what analysers say about the code; any finding is an error'
	@echo 'make bench      time the main job against a bare loop'
	@echo 'make asan       all tests under the address and undefined-behaviour sanitizers'
	@echo 'make fuzz       feed the readers of files odd bytes and those of sites odd tables, each for SECONDS=60 (needs clang)'
	@echo 'make manual     write reference/manual/fields.md from the field tables'
	@echo 'make clean      remove build/'
	@echo 'MODE=release|debug|asan and CC=gcc|clang choose the build.'

# --- what a fresh machine lacks ---------------------------------------------------------------

# Install the packages that are missing, through sudo when not root. Elsewhere than on Debian, or
# without the means to install, print their names and stop.
define install
	@missing=; for p in $(1); do dpkg-query -W -f='$${Status}' $$p 2>/dev/null | \
	  grep -q 'ok installed' || missing="$$missing $$p"; done; \
	if [ -n "$$missing" ]; then \
	  if ! command -v apt-get >/dev/null 2>&1; then \
	    echo "steading needs these packages (Debian names):$$missing"; exit 1; fi; \
	  if [ "$$(id -u)" = 0 ]; then as=; elif command -v sudo >/dev/null 2>&1; then as=sudo; else \
	    echo "not root and no sudo; please install:$$missing"; exit 1; fi; \
	  echo "installing:$$missing"; \
	  $$as apt-get update -qq && \
	  $$as env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends $$missing \
	    >/dev/null || { echo "could not install:$$missing"; exit 1; }; \
	fi
endef

packages-demo:
	$(call install,$(PACKAGES_DEMO))

packages-check: packages-demo
	$(call install,$(PACKAGES_CHECK))
	-@$(MAKE) --no-print-directory packages-extra || \
	  echo 'going on without these; the tests that need them are skipped by name'

packages-extra:
	$(call install,$(PACKAGES_EXTRA))

# The main job on sourced monthly means, or on WEATHER=file.epw; results in build/demo. The second
# make begins only when the packages are there, since pkg-config is asked by it.
demo: packages-demo
	@$(SUBMAKE) MODE=$(MODE) $(COMMAND)
	@mkdir -p build
	@for question in five_homes_deep_well five_homes_stages; do \
	  $(COMMAND) run scenarios/$$question.lua --out build/demo \
	    $(if $(WEATHER),--set weather="$$WEATHER") || exit; echo; done
	@echo 'The files are in build/demo.'

# All tests under one runner, whose summary is the last line. DATA names a folder of weather files.
check: packages-check
	@$(SUBMAKE) MODE=$(MODE) $(TESTS) $(COMMAND)
	@STEADING=$(COMMAND) DATA='$(DATA)' $(TESTS)

asan:
	@$(MAKE) --no-print-directory MODE=asan check

packages-lint:
	$(call install,$(PACKAGES_LINT))

# What analysers find. A tool that is not there is skipped by name; any finding is an error. Leaks are
# left to `make asan`: gcc takes what one of several owners holds for leaked.
lint_src    = $(core_src) $(binding_src) $(command_src)
LINT_CFLAGS = $(STD) -Icore -Ibindings -I$(BUILD)/bindings $(LUA_CFLAGS) \
              -DSTEADING_VERSION='"$(VERSION)"'
lint_each   = printf '%s\n' $(lint_src) | xargs -P $(JOBS) -I{}

lint: packages-demo
	-@$(MAKE) --no-print-directory packages-lint || \
	  echo 'going on without these; what needs them is skipped by name'
	@$(SUBMAKE) MODE=$(MODE) $(BUILD)/bindings/library.h
	@bad=0; there() { command -v $$1 >/dev/null 2>&1 && echo "  LINT $$1" || \
	    { echo "  skipped: $$1 is not installed"; return 1; }; }; \
	  if there gcc; then $(lint_each) gcc -O1 -fanalyzer -Wno-analyzer-malloc-leak -Werror \
	    $(LINT_CFLAGS) -c -o /dev/null {} \
	    || bad=1; fi; \
	  if there clang-tidy; then $(lint_each) clang-tidy --quiet {} -- $(LINT_CFLAGS) \
	    2>/dev/null || bad=1; fi; \
	  if there cppcheck; then cppcheck --quiet --std=c11 --enable=warning,performance,portability \
	    --inline-suppr --suppressions-list=.cppcheck --error-exitcode=1 -j $(JOBS) -D_GNU_SOURCE \
	    -Icore -Ibindings $(lint_src) || bad=1; fi; \
	  if there luacheck; then luacheck --quiet $(library_lua) scenarios || bad=1; fi; \
	  exit $$bad

bench: packages-demo
	@$(SUBMAKE) MODE=release $(COMMAND) $(BENCHES)
	@DATA='$(DATA)' sh tests/bench/run.sh $(COMMAND) $(BUILD)/tests/bench

# libFuzzer, one target after the other (tests/fuzz/targets.c; TARGETS="epw zone" for some). What
# breaks one is kept in build/fuzz/broken; what it learns is in build/fuzz/corpus for the next time.
SECONDS ?= 60
TARGETS ?= epw tmy3 keyed table stamp csv zone year site
FUZZER  := $(BUILD)/tests/fuzz/run

packages-fuzz: packages-demo
	$(call install,$(PACKAGES_FUZZ))

fuzz: packages-fuzz
	@$(SUBMAKE) MODE=fuzz CC=clang build/fuzz/tests/fuzz/run
	@mkdir -p build/fuzz/broken
	@for t in $(TARGETS); do mkdir -p build/fuzz/corpus/$$t; \
	  TARGET=$$t SEEDS=build/fuzz/corpus/$$t build/fuzz/tests/fuzz/run || exit; \
	  echo "  FUZZ $$t"; \
	  TARGET=$$t build/fuzz/tests/fuzz/run -max_total_time=$(SECONDS) -max_len=4096 -len_control=20 -timeout=60 \
	    -artifact_prefix=build/fuzz/broken/$$t- build/fuzz/corpus/$$t >build/fuzz/$$t.log 2>&1 || \
	    { tail -60 build/fuzz/$$t.log; exit 1; }; \
	  grep DONE build/fuzz/$$t.log; \
	done

manual: $(COMMAND)
	$(COMMAND) help manual > reference/manual/fields.md

clean:
	rm -rf build

# --- build ---------------------------------------------------------------------------------------

$(CORE): $(call obj,$(core_src))
	$(call say,AR,$@)
	$(Q)rm -f $@
	$(Q)$(AR) rcs $@ $^

$(BUILD)/bindings/%.o: ALL_CFLAGS += $(LUA_CFLAGS) -I$(BUILD)/bindings -Ibindings \
                       -DSTEADING_VERSION='"$(VERSION)"'

# Lua files of the library travel inside the command as arrays of bytes.
$(BUILD)/bindings/library.h: $(library_lua) Makefile
	@mkdir -p $(@D)
	@{ for f in $(library_lua); do n=$$(basename $$f .lua); \
	  echo "static const unsigned char steading_library_$$n[] = {"; \
	  od -An -v -tu1 $$f | sed 's/\([0-9][0-9]*\)/\1,/g'; echo '};'; done; } > $@

$(call obj,$(binding_src)): $(BUILD)/bindings/library.h

$(COMMAND): $(call obj,$(command_src) $(binding_src)) $(CORE)
	$(call say,LD,$@)
	$(Q)$(CC) $(OPT.$(MODE)) $(LDFLAGS) -o $@ $^ $(ALL_LIBS)

$(BUILD)/tests/%.o: ALL_CFLAGS += $(CHECK_CFLAGS) $(EXTRA_CFLAGS) -Itests -Wno-pedantic
$(TESTS): $(call obj,$(test_src)) $(CORE)
	$(call say,LD,$@)
	$(Q)$(CC) $(OPT.$(MODE)) $(LDFLAGS) -o $@ $^ $(CHECK_LIBS) $(EXTRA_LIBS) $(ALL_LIBS)

$(FUZZER): $(BUILD)/tests/fuzz/main.o $(BUILD)/tests/fuzz/targets.o $(BUILD)/tests/fuzz/site.o \
           $(BUILD)/tests/table_text.o $(CORE)
	$(call say,LD,$@)
	$(Q)$(CC) $(OPT.$(MODE)) -fsanitize=fuzzer $(LDFLAGS) -o $@ $^ $(ALL_LIBS)

# A bare loop to measure against, which stands alone, and the chain of a plane.
$(BUILD)/tests/bench/bare: tests/bench/bare.c tests/reference_year.c tests/reference_year.h Makefile
	@mkdir -p $(@D)
	$(call say,CC,$<)
	$(Q)$(CC) -std=c11 -D_GNU_SOURCE -O2 -Itests -o $@ $< tests/reference_year.c -lm

$(BUILD)/tests/bench/plane: tests/bench/plane.c $(CORE) Makefile
	@mkdir -p $(@D)
	$(call say,CC,$<)
	$(Q)$(CC) $(ALL_CFLAGS) $(EXTRA_CFLAGS) -o $@ $< $(CORE) $(EXTRA_LIBS) -lcsv -lnettle -lm

# Written anew when compiler or flags differ from the last time, so that objects never mix.
$(BUILD)/flags: FORCE
	@mkdir -p $(@D)
	@echo '$(CC) $(OPT.$(MODE)) $(CFLAGS)' | cmp -s - $@ || \
	  echo '$(CC) $(OPT.$(MODE)) $(CFLAGS)' > $@
FORCE:
.PHONY: FORCE

$(BUILD)/%.o: %.c Makefile $(BUILD)/flags
	@mkdir -p $(@D)
	$(call say,CC,$<)
	$(Q)$(CC) $(ALL_CFLAGS) -c -o $@ $<

-include $(patsubst %.o,%.d,$(call obj,$(filter-out tests/bench/%,$(all_src) tests/fuzz/main.c)))
