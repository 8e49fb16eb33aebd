#include "ringquell/write_case.h"

#include <doctest/doctest.h>

#include <random>
#include <string>
#include <vector>

#include "ringquell/numbers.h"
#include "ringquell/read_case.h"
#include "support/case_text.h"
#include "support/same_case.h"
#include "test_paths.h"

using namespace ringquell;

namespace {
const std::string reference = std::string(RINGQUELL_TEST_DATA) + "/reference/";
const char* const reference_names[] = {"ladder-3-coupled", "pair-cascode", "pair-with-bead", "star-4-mosfet"};
}  // namespace

TEST_CASE("a written case reads back to an equal case") {
    for (const char* name : reference_names) {
        INFO(name);
        const Case in = read_case(reference + name + ".yaml");
        CHECK(same_case(read_case_text(write_case(in), "again.yaml"), in));
    }
}

TEST_CASE("a case whose numbers were changed at random reads back to the last bit") {
    std::mt19937 random(20240607);
    for (const char* name : reference_names)
        for (int round = 0; round < 40; ++round) {
            Case in = read_case(reference + name + ".yaml");
            for (const std::string& key : number_keys(in)) {
                if (key.starts_with("require.") || key.starts_with("couplings")) continue;
                Number number = find_number(in, key);
                for (double* value : number.values)
                    if (random() % 3 == 0)
                        *value *= 0.5 + std::uniform_real_distribution<double>(0, 1)(random);
            }
            if (round % 3 == 0) in.positions.back().device.package.kelvin_h.reset();
            if (round % 4 == 0) in.positions.front().snubber = SeriesRlc{1e-10, 1.0 / 3, 0};
            if (round % 5 == 0)
                in.positions.back().gate_path.bead = Bead{"b", 0.1, 1e-12, {{1, 2e-9}, {3, 4e-9}}, {{0, 1}}};
            if (round % 7 == 0) in.positions.front().device.gate_resistance = {1.5, 25, 0.003};
            const std::string text = write_case(in);
            INFO(text);
            CHECK(same_case(read_case_text(text, "again.yaml"), in));
        }
}

TEST_CASE("an override removes what its position has not") {
    Case in = read_case(reference + "pair-with-bead.yaml");
    in.positions[1].gate_path.bead.reset();
    const std::string text = write_case(in);
    CHECK(text.find("overrides: [{position: 2, gate_path: {bead: ~}}]") != std::string::npos);
    CHECK(same_case(read_case_text(text, "again.yaml"), in));
}

TEST_CASE("a title with quotes, colons and line breaks survives") {
    Case in = read_case(reference + "star-4-mosfet.yaml");
    in.title = "a \"b\": c\\d # e\nf\t\u03a9 \x01";
    CHECK(read_case_text(write_case(in), "again.yaml").title == in.title);
}

TEST_CASE("correlations with one tolerance and with several read back") {
    const Case in = case_text::read(case_text::with_spread(R"(
  gate_path.inductance: {tolerance: 20 %}
  kelvin_path.inductance: {tolerance: 20 %, correlation: {with: gate_path.inductance, coefficient: 0.1}}
  device.gate_resistance: {tolerance: 10 %, correlation: [{with: gate_path.inductance, coefficient: 0.3}, {with: kelvin_path.inductance, coefficient: -0.7}]}
  power_loop.inductance: {tolerance: 20 %, correlation: {with: "gate_path[2].inductance", coefficient: 0.6}}
)"));
    REQUIRE(in.spread.size() == 4);
    CHECK(in.spread[1].correlations == std::vector<Correlation>{{"gate_path.inductance", 0.1, {}}});
    CHECK(in.spread[2].correlations ==
          std::vector<Correlation>{{"gate_path.inductance", 0.3, {}}, {"kelvin_path.inductance", -0.7, {}}});
    CHECK(in.spread[3].correlations == std::vector<Correlation>{{"gate_path[2].inductance", 0.6, {}}});
    CHECK(same_case(read_case_text(write_case(in), "again.yaml"), in));
}
