// `cure`: what it finds passes, and nothing cheaper that a search of this test's own finds does.
#include "ringquell/cure.h"

#include <doctest/doctest.h>
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <functional>
#include <random>
#include <set>

#include "ringquell/acceptable.h"
#include "ringquell/numbers.h"
#include "ringquell/operating_path.h"
#include "ringquell/read_case.h"
#include "ringquell/report.h"
#include "ringquell/spread.h"
#include "ringquell/write_case.h"
#include "support/case_text.h"
#include "support/curve_cases.h"
#include "support/files.h"
#include "support/relative.h"

using namespace ringquell;
using case_text::contains;

namespace {

// ---- boards ----

/// A board by the seed: MOSFETs or cascodes of formulas, a short walk.
Case drawn(unsigned seed, bool cascode, bool uneven) {
    std::mt19937 random(seed);
    const auto between = [&](double low, double high) {
        return low * std::pow(high / low, static_cast<double>(random() % 1000) / 1000);
    };
    const std::string operation = cascode ? "path: {steps: 3}" : "path: {steps: 4}";
    std::string text =
        cascode ? curve_cases::cascodes(operation) : curve_cases::mosfets(curve_cases::formula, operation);
    text = case_text::replaced(
        text, "gate_path: {resistor: 4.7 ohm, inductance: 7 nH}",
        fmt::format(
            "gate_path: {{resistor: {{turn_on: {:.2f} ohm, turn_off: {:.2f} ohm}}, inductance: {:.3g} nH}}\n"
            "drain_path: {{resistance: 0.5 mohm, inductance: {:.3g} nH}}\n"
            "source_path: {{resistance: 0.5 mohm, inductance: {:.3g} nH}}",
            between(0.8, 8), between(0.8, 8), between(5, 25), between(2, 15), between(1, 8)));
    text = case_text::replaced(text, "kelvin_path: {inductance: 5 nH}",
                               fmt::format("kelvin_path: {{inductance: {:.3g} nH}}", between(3, 20)));
    if (uneven)
        text += fmt::format(
            "overrides:\n- {{position: 2, gate_path: {{inductance: {:.3g} nH}}}}\n"
            "- {{position: 3, source_path: {{inductance: {:.3g} nH}}}}\n",
            between(5, 40), between(1, 10));
    return case_text::read(text);
}

CheckOptions verdict_only() {
    CheckOptions out;
    out.size_gate_resistor = out.follow_modes = out.gain_margin = false;
    return out;
}

enum class Sort { no_resistor, only_rings, cascode, uneven };

bool is_of(Sort sort, const CheckResult& r) {
    if (r.verdict != Verdict::fail) return false;
    switch (sort) {
        case Sort::no_resistor:
            return std::any_of(r.gate_resistance.begin(), r.gate_resistance.end(),
                               [](const auto& s) { return s.second.acceptable.windows.empty(); });
        case Sort::only_rings:
            return r.growing.empty() && r.worst_differential && !r.worst_differential->fed_by_gain() &&
                   misses(r.worst_differential->mode, r.require);
        default:
            return true;
    }
}

/// The first boards of a sort.
std::vector<Case> boards(Sort sort, size_t count) {
    std::vector<Case> out;
    const auto first = 1000 * (static_cast<unsigned>(sort) + 1);
    for (unsigned seed = first; out.size() < count && seed < first + 900; ++seed) {
        Case board = drawn(seed, sort == Sort::cascode, sort == Sort::uneven);
        if (sort == Sort::only_rings)
            for (Position& p : board.positions) {
                p.drain_path.inductance_h *= 3;
                p.gate_path.resistor_ohm = {12, 12};
            }
        if (!is_of(sort, check(board))) continue;
        // Some boards take no part of some kinds, so that more than one change may be needed.
        if (out.size() % 2 == 1) board.cure.fixed = {"common_mode_choke", "gate_path.bead", "gate_shunt"};
        if (out.size() == 2) board.cure.may["snubber.capacitance"].to = 220e-12;
        out.push_back(std::move(board));
    }
    REQUIRE(out.size() == count);
    return out;
}

// ---- a search that shares nothing with `cure` but the definition of prices ----

struct Step {
    double price = 0;
    std::function<void(Case&)> apply;
    int of = 0;  // the number that it moves: no two steps of one number in a pair
};

/// E24 of IEC 60063.
std::vector<double> resistors(double from, double to) {
    std::vector<double> out;
    for (const double decade : {0.1, 1.0, 10.0})
        for (const double x : {1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0,
                               3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1})
            if (decade * x >= from - 1e-9 && decade * x <= to + 1e-9) out.push_back(decade * x);
    return out;
}
std::vector<double> capacitors(double from, double to) {
    std::vector<double> out;
    for (const double decade : {1e-11, 1e-10, 1e-9, 1e-8})
        for (const double x : {1.0, 1.5, 2.2, 3.3, 4.7, 6.8})
            if (decade * x >= from * 0.999 && decade * x <= to * 1.001) out.push_back(decade * x);
    return out;
}
double octaves(double from, double to) {
    return std::abs(std::log2(to / from));
}

/// Every single step that costs less than `limit`.
std::vector<Step> steps(const Case& board, double limit) {
    std::vector<Step> out;
    int of = 0;
    const char* key = "gate_path.resistor";
    const auto add = [&](double price, std::function<void(Case&)> apply) {
        const auto& fixed = board.cure.fixed;
        if (price < limit && std::find(fixed.begin(), fixed.end(), key) == fixed.end())
            out.push_back({price, std::move(apply), of});
    };
    for (const Edge edge : {Edge::turn_on, Edge::turn_off}) {
        ++of;
        for (const double ohm : resistors(0.5, board.require.gate_resistance_limit_ohm)) {
            double most = 0;
            for (const Position& p : board.positions)
                most = std::max(most, octaves(p.gate_path.resistor_ohm.of(edge), ohm));
            if (most > 0) add(1 + most, [edge, ohm](Case& c) { fit_gate_resistor(c, edge, ohm); });
        }
    }
    key = "gate_path.bead";
    ++of;
    for (const double ohm : {25.0, 50.0, 100.0})
        add(3 + octaves(50, ohm), [ohm](Case& c) {
            Bead bead;
            bead.dc_resistance_ohm = 0.03;
            bead.capacitance_f = 1e-12;
            bead.sections = {{ohm, std::round(ohm / (2 * M_PI * 0.1)) * 1e-9}};
            for (Position& p : c.positions) p.gate_path.bead = bead;
        });
    key = "kelvin_path.resistor";
    ++of;
    for (const double ohm : resistors(0.5, 10))
        add(3 + octaves(1, ohm), [ohm](Case& c) {
            for (Position& p : c.positions) p.kelvin_path->resistor_ohm = ohm;
        });
    key = "snubber";
    ++of;
    const auto bound = board.cure.may.find("snubber.capacitance");
    for (const double farad :
         capacitors(47e-12, bound == board.cure.may.end() ? 10e-9 : bound->second.to.value_or(10e-9)))
        for (const double ohm : resistors(1, 100))
            add(3 + octaves(470e-12, farad) + octaves(4.7, ohm), [farad, ohm](Case& c) {
                for (Position& p : c.positions) p.snubber = SeriesRlc{farad, ohm, 2e-9};
            });
    key = "common_mode_choke";
    ++of;
    for (const double henry : {100e-9, 150e-9, 220e-9, 330e-9, 470e-9, 680e-9, 1e-6, 1.5e-6, 2.2e-6})
        add(3 + octaves(470e-9, henry), [henry](Case& c) {
            for (Position& p : c.positions) p.common_mode_choke = CommonModeChoke{henry, 0.02 * henry, 100.0};
        });
    for (const char* inductance : {"gate_path.inductance", "kelvin_path.inductance", "drain_path.inductance",
                                   "source_path.inductance"}) {
        ++of;
        key = inductance;
        std::vector<double> now;
        for (const double* v : find_number(board, inductance).values) now.push_back(*v);
        std::sort(now.begin(), now.end());
        const double middle = now[now.size() / 2];
        for (int k = -10; k <= 10; ++k) {
            const double value = middle * std::pow(2, k / 10.0);
            double most = 0;
            for (const double o : now) most = std::max(most, octaves(o, value));
            if (most > 0)
                add(10 + most, [inductance, value](Case& c) {
                    for (double* v : find_number(c, inductance).values) *v = value;
                });
        }
    }
    return out;
}

/// Does the board pass with these steps? The points that failed last are looked at first.
class OwnJudge {
  public:
    explicit OwnJudge(const Case& board) : board_(board), points_(operating_path(board).points) {}
    bool passes(const std::vector<const Step*>& steps) {
        Case changed = board_;
        for (const Step* s : steps) s->apply(changed);
        ModeSolver solver(changed);
        for (size_t k = 0; k < points_.size(); ++k) {
            if (!points_[k].judged) continue;
            const Modes modes = solver.solve(points_[k]);
            if (std::none_of(modes.modes.begin(), modes.modes.end(),
                             [&](const Mode& m) { return misses(m, board_.require); }))
                continue;
            std::swap(points_[k], points_[0]);
            return false;
        }
        return check(changed, verdict_only()).verdict == Verdict::pass;
    }

  private:
    const Case& board_;
    std::vector<OperatingPoint> points_;
};

/// The price of the cheapest step, and of the cheapest of so many pairs, that pass below the limits.
double cheapest_single(const Case& board, double limit) {
    OwnJudge judge(board);
    double out = limit;
    for (const Step& s : steps(board, limit))
        if (s.price < out && judge.passes({&s})) out = s.price;
    return out;
}
double cheapest_pair(const Case& board, double limit, size_t most_looked_at) {
    OwnJudge judge(board);
    const std::vector<Step> all = steps(board, limit);
    std::vector<std::pair<const Step*, const Step*>> pairs;
    for (size_t i = 0; i < all.size(); ++i)
        for (size_t j = i + 1; j < all.size(); ++j)
            if (all[i].of != all[j].of && all[i].price + all[j].price < limit)
                pairs.emplace_back(&all[i], &all[j]);
    const size_t stride = 1 + pairs.size() / most_looked_at;
    double out = limit;
    for (size_t k = 0; k < pairs.size(); k += stride) {
        const auto& [a, b] = pairs[k];
        if (a->price + b->price < out && judge.passes({a, b})) out = a->price + b->price;
    }
    return out;
}

std::string words(const CureOption& o) {
    std::string out = fmt::format("{:.3f}:", o.price);
    for (const CureChange& c : o.changes) out += fmt::format(" {}={}", c.key, c.to);
    return out;
}

#ifdef RINGQUELL_SANITIZED
constexpr size_t boards_of_a_sort = 1, most_pairs = 300;
#else
constexpr size_t boards_of_a_sort = 5, most_pairs = 2500;
#endif

void try_boards(Sort sort) {
    for (const Case& board : boards(sort, boards_of_a_sort)) {
        const Cure cure = find_cure(board);
        REQUIRE(!cure.options.empty());
        const CureOption& least = cure.options.front();
        CAPTURE(words(least));
        CAPTURE(write_case(board));
        for (const CureOption& o : cure.options) {
            CHECK(o.price >= least.price);
            const Case written = case_text::read(write_case(o.cured));
            CHECK(check(written, verdict_only()).verdict == Verdict::pass);
        }
        CHECK(cheapest_single(board, least.price - 1e-6) >= least.price - 1e-6);
        CHECK(cheapest_pair(board, 0.9 * least.price, most_pairs) >= 0.9 * least.price);
    }
}

Case demonstration(const std::string& name, std::vector<std::string> settings = {}) {
    settings.insert(settings.begin(), "operation.path.steps=5");
    return test_files::demonstration(name, settings);
}

const CureOption* with_key(const Cure& cure, const std::string& key) {
    for (const CureOption& o : cure.options)
        for (const CureChange& c : o.changes)
            if (c.key.starts_with(key)) return &o;
    return nullptr;
}

}  // namespace

TEST_CASE("boards that no gate resistor cures: what is found passes, and no cheaper step or pair does") {
    try_boards(Sort::no_resistor);
}

TEST_CASE("boards whose loops only ring: what is found passes, and no cheaper step or pair does") {
    try_boards(Sort::only_rings);
}

#ifndef RINGQUELL_SANITIZED  // minutes there
TEST_CASE("cascodes: what is found passes, and no cheaper step or pair does") {
    try_boards(Sort::cascode);
}
#endif

TEST_CASE("uneven boards: what is found passes, and no cheaper step or pair does") {
    try_boards(Sort::uneven);
}

TEST_CASE("a board that passes needs no cure") {
    const Cure cure = find_cure(demonstration("ropeway-cured"));
    CHECK(cure.before.verdict == Verdict::pass);
    CHECK(cure.options.empty());
    CHECK(contains(cure_text(cure, ""), "it passes as it stands, nothing to cure"));
}

TEST_CASE("what a cure changes can be set from the command line, to the same damping") {
    const Cure cure = find_cure(demonstration("ropeway-first"));
    REQUIRE(!cure.options.empty());
    for (const CureOption& o : cure.options) {
        std::vector<std::string> settings;
        for (const CureChange& c : o.changes) settings.push_back(c.key + "=" + c.to);
        const CheckResult set = check(demonstration("ropeway-first", settings), verdict_only());
        REQUIRE(set.worst_differential);
        CHECK_RELATIVE(set.worst_differential->mode.damping_ratio(), *o.damping_ratio, 1e-9);
    }
}

TEST_CASE("what is fixed does not change; a block's name is all that is in it") {
    Case board = demonstration("ropeway-first");
    board.cure.fixed = {"gate_path.bead", "common_mode_choke"};
    const Cure cure = find_cure(board);
    REQUIRE(!cure.options.empty());
    CHECK(with_key(cure, "gate_path.bead") == nullptr);
    CHECK(with_key(cure, "common_mode_choke") == nullptr);
    board.cure.fixed = {"*"};
    const Cure none = find_cure(board);
    CHECK(none.options.empty());
    CHECK(none.alone_not.empty());
    CHECK(contains(cure_text(none, ""), "no cure was found"));
}

TEST_CASE("dice inside a module are offered no bead and no snubber") {
    Case board = demonstration("ropeway-first");
    for (Position& p : board.positions) p.device.package = Package{};
    const Cure cure = find_cure(board);
    CHECK(with_key(cure, "gate_path.bead") == nullptr);
    CHECK(with_key(cure, "snubber") == nullptr);
}

#ifndef RINGQUELL_SANITIZED  // minutes there
TEST_CASE("an inductance of the layout moves within what the case allows, and no further") {
    Case board = demonstration("mine-hoist-bus", {"operation.path.steps=3"});
    board.cure.fixed = {"gate_path.*", "common_mode_choke", "snubber",     "driver", "device",
                        "gate_shunt",  "power_loop",        "kelvin_path", "buses",  "source_path.*"};
    const Cure free = find_cure(board);
    const CureOption* moved = with_key(free, "drain_path.inductance");
    REQUIRE(moved != nullptr);
    const double needed = moved->cured.positions.front().drain_path.inductance_h;
    CHECK(needed > board.positions.front().drain_path.inductance_h);
    board.cure.may["drain_path.inductance"] = {std::nullopt, 0.98 * needed};
    const Cure bounded = find_cure(board);
    for (const CureOption& o : bounded.options)
        CHECK(o.cured.positions.front().drain_path.inductance_h <= 0.98 * needed);
}
#endif

#ifndef RINGQUELL_SANITIZED  // minutes there
TEST_CASE("prices of the case set the order") {
    Case board = demonstration("ropeway-first");
    const Cure usual = find_cure(board);
    CHECK(usual.options.front().changes.front().key == "gate_path.bead");
    board.cure.price["part"] = 20;
    const Cure dear = find_cure(board);
    CHECK(dear.options.front().changes.front().key == "gate_path.resistor.turn_on");
    board.cure.price["common_mode_choke"] = 0.5;
    const Cure choke = find_cure(board);
    CHECK(choke.options.front().changes.front().key == "common_mode_choke.inductance");
    CHECK_RELATIVE(choke.options.front().price, 0.5, 1e-12);
}
#endif

TEST_CASE("a price is the effort and the octaves by which the number moves") {
    const Case board = demonstration("ropeway-first");
    const Cure cure = find_cure(board);
    const CureOption* resistors_alone = with_key(cure, "gate_path.resistor");
    REQUIRE(resistors_alone != nullptr);
    double price = 0;
    for (const Edge edge : {Edge::turn_on, Edge::turn_off})
        price += 1 + octaves(board.positions.front().gate_path.resistor_ohm.of(edge),
                             resistors_alone->cured.positions.front().gate_path.resistor_ohm.of(edge));
    CHECK_RELATIVE(resistors_alone->price, price, 1e-12);
}

#ifndef RINGQUELL_SANITIZED  // minutes there
TEST_CASE("with a bead the resistor that is needed is smaller than without (common practice, no source)") {
    // A small bead, which does not do alone.
    Case board = demonstration("ropeway-first");
    CureOptions options;
    Bead bead;
    bead.dc_resistance_ohm = 0.03;
    bead.sections = {{12, 12e-9}};
    options.beads = {{"a small bead", bead}};
    board.cure.fixed = {"common_mode_choke"};
    const Cure cure = find_cure(board, options);
    const CureOption *alone = nullptr, *with_bead = nullptr;
    for (const CureOption& o : cure.options) {
        if (o.with_room) continue;
        const bool has_bead = o.changes.front().key == "gate_path.bead";
        if (has_bead && o.changes.size() > 1 && with_bead == nullptr) with_bead = &o;
        if (!has_bead && o.changes.front().key.starts_with("gate_path.resistor")) alone = &o;
    }
    REQUIRE(alone != nullptr);
    REQUIRE(with_bead != nullptr);
    CHECK(with_bead->cured.positions.front().gate_path.resistor_ohm.turn_off <
          alone->cured.positions.front().gate_path.resistor_ohm.turn_off);
}
#endif

#ifndef RINGQUELL_SANITIZED  // minutes there
TEST_CASE("where the case has tolerances, a cure passes with 59 of their samples") {
    Case board = demonstration("ropeway-first");
    board.cure.fixed = {"*.inductance", "common_mode_choke", "gate_path.bead", "snubber",
                        "gate_shunt",   "kelvin_path",       "driver",         "device"};
    const Cure nominal = find_cure(board);
    const auto fixed = board.cure.fixed;
    board = demonstration("ropeway-first", {"spread=typical"});
    board.cure.fixed = fixed;
    const Cure cure = find_cure(board);
    CHECK(cure.by_samples);
    REQUIRE(!cure.options.empty());
    for (const CureOption& o : cure.options) {
        SpreadOptions fifty_nine;
        fifty_nine.samples = 59;
        CHECK(spread(o.cured, fifty_nine).passed == 59);
    }
    // Room for the tolerances costs.
    CHECK(cure.options.front().price > nominal.options.front().price);
}
#endif

TEST_CASE("an option that nothing betters in all respects is marked, and the first is the cheapest") {
    const Cure cure = find_cure(demonstration("ropeway-first"));
    CHECK(
        std::any_of(cure.options.begin(), cure.options.end(), [](const CureOption& o) { return o.pareto; }));
    for (const CureOption& a : cure.options)
        for (const CureOption& b : cure.options)
            if (a.pareto && b.price < a.price && b.damping_ratio > a.damping_ratio)
                CHECK(b.cost.switching_energy_j.value_or(0) + b.cost.snubber_loss_w >
                      a.cost.switching_energy_j.value_or(0) + a.cost.snubber_loss_w - 1e-6);
}

TEST_CASE("check's first advice is a cure: the case passes with it") {
    for (const char* name : {"ropeway-first", "ice-rink-cascode", "sawmill-row"}) {
        CAPTURE(name);
        const Case board = test_files::demonstration(name);
        CheckResult result = check(board);
        add_first_cure(board, result);
        REQUIRE(result.first_cure);
        std::vector<std::string> settings;
        for (const CureChange& c : result.first_cure->changes) settings.push_back(c.key + "=" + c.to);
        CHECK(check(test_files::demonstration(name, settings), verdict_only()).verdict == Verdict::pass);
        CHECK(contains(check_text(result), "`ringquell cure` ranks what else passes"));
    }
}

TEST_CASE("the block `cure` is read, and written back as it was") {
    const Case board =
        case_text::read(case_text::base +
                        "cure:\n  fixed: [package.*, \"driver\"]\n"
                        "  may: {source_path.inductance: {from: 2 nH}, gate_path.resistor: {to: 15 ohm}}\n"
                        "  price: {layout: 5, snubber: 2.5}\n");
    CHECK(board.cure.fixed == std::vector<std::string>{"package.*", "driver"});
    CHECK(board.cure.may.at("gate_path.resistor").to == 15.0);
    CHECK(board.cure.price.at("snubber") == 2.5);
    CHECK(case_text::read(write_case(board)).cure == board.cure);
}

TEST_CASE("what `cure` cannot mean is an error with its place") {
    const auto error = [](const std::string& lines) {
        return case_text::error_of(case_text::base + "cure:\n" + lines);
    };
    CHECK(error("  fixd: [snubber]\n") == "a.yaml:24:3: cure.fixd: unknown key; did you mean `fixed`?");
    CHECK(error("  fixed: [snuber]\n") ==
          "a.yaml:24:11: cure.fixed[1]: `snuber` names nothing that a cure may change; did you mean "
          "`snubber`?");
    CHECK(
        error("  may: {operation.bus_voltage: {to: 600 V}}\n") ==
        "a.yaml:24:32: cure.may.operation.bus_voltage: `operation.bus_voltage` is no number that a cure may "
        "change; expected a number of the board such as `source_path.inductance`");
    CHECK(error("  may: {source_path.inductance: {from: 5 nH, to: 2 nH}}\n") ==
          "a.yaml:24:50: cure.may.source_path.inductance.to: found `2 nH`, expected a value above `from`");
    CHECK(error("  price: {layout: -1}\n") ==
          "a.yaml:24:19: cure.price.layout: found `-1`, expected an effort of 0 or more, such as 3");
    CHECK(error("  price: {layuot: 1}\n") ==
          "a.yaml:24:11: cure.price: `layuot` names nothing that a cure may change; did you mean `layout`?");
}
