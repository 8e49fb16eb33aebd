// `measured`: rings of the bench, as input.
#include <doctest/doctest.h>

#include <string>

#include "ringquell/write_case.h"
#include "support/case_text.h"
#include "support/relative.h"
#include "support/same_case.h"

using namespace ringquell;

namespace {

std::string with_measured(const std::string& list) {
    return case_text::base + "measured: " + list + "\n";
}

}  // namespace

TEST_CASE("measured: rings are read, and written back as they were") {
    const Case read = case_text::read(with_measured(
        "[{frequency: 87 MHz, decay: 40 ns, at: fall}, {frequency: 140 MHz, damping: 0.05, at: fall}]"));
    REQUIRE(read.measured.size() == 2);
    CHECK_RELATIVE(read.measured[0].frequency_hz, 87e6, 1e-15);
    CHECK_RELATIVE(read.measured[0].decay_s.value(), 40e-9, 1e-15);
    CHECK(!read.measured[0].damping_ratio);
    CHECK(read.measured[0].at == "fall");
    CHECK_RELATIVE(read.measured[1].damping_ratio.value(), 0.05, 1e-15);
    CHECK(!read.measured[1].decay_s);
    const std::string text = write_case(read);
    CHECK(text.find("measured:") != std::string::npos);
    CHECK(same_case(case_text::read(text), read));
    CHECK(case_text::read(case_text::base).measured.empty());
    CHECK(case_text::read(with_measured("~")).measured.empty());
    CHECK(write_case(case_text::read(case_text::base)).find("measured") == std::string::npos);
}

TEST_CASE("measured: what cannot be a ring is refused with its place") {
    const auto error = [](const std::string& list) { return case_text::error_of(with_measured(list)); };
    const std::string line = "a.yaml:23:";
    CHECK(error("{frequency: 87 MHz}") ==
          line + "11: measured: found a map, expected a list of rings, each with `frequency` and `at`");
    CHECK(error("[{decay: 40 ns, at: fall}]") == line + "12: measured[1]: the key `frequency` is missing");
    CHECK(error("[{frequency: 87 MHz, decay: 40 ns}]") == line + "12: measured[1]: the key `at` is missing");
    CHECK(error("[{frequency: 87 MHz, at: fall}]") ==
          line + "12: measured[1]: found neither `decay` nor `damping`; expected one of the two");
    CHECK(error("[{frequency: 87 MHz, decay: 40 ns, damping: 0.05, at: fall}]") ==
          line + "55: measured[1].damping: found beside `decay`; expected one of the two");
    CHECK(error("[{frequency: -87 MHz, decay: 40 ns, at: fall}]") ==
          line + "24: measured[1].frequency: found `-87 MHz`, expected a value above zero");
    CHECK(error("[{frequency: 87 MHz, decay: 0 ns, at: fall}]") ==
          line + "39: measured[1].decay: found `0 ns`, expected a value above zero");
    CHECK(error("[{frequency: 87 MHz, damping: -0.1, at: fall}]") ==
          line + "41: measured[1].damping: found `-0.1`, expected no negative value");
    CHECK(error("[{frequency: 87 MHz, damping: 1, at: fall}]") ==
          line + "41: measured[1].damping: found `1`, expected a damping ratio below 1");
    CHECK(error("[{frequency: 87 MHz, decays: 40 ns, at: fall}]") ==
          line + "32: measured[1].decays: unknown key; did you mean `decay`?");
    CHECK(error("[{frequency: 87, decay: 40 ns, at: fall}]").find(line + "24: measured[1].frequency: ") == 0);
}
