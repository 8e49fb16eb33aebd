#include "ringquell/error.h"

#include <doctest/doctest.h>

#include <string>

using ringquell::InputError;

TEST_CASE("an input error names file, line, column and key, and leaves out what is unknown") {
    CHECK(std::string(InputError({"a.yaml", 3, 7}, "gate_path.inductance", "found `x`").what()) ==
          "a.yaml:3:7: gate_path.inductance: found `x`");
    CHECK(std::string(InputError({"a.yaml"}, "", "no such file").what()) == "a.yaml: no such file");
    CHECK(std::string(InputError({}, "device", "missing").what()) == "device: missing");
    CHECK(InputError({"a.yaml", 3, 7}, "device", "missing").text() == "missing");
}
