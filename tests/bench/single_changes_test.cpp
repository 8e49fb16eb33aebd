// A ring that one known change has made: is the number that was changed among the first of the table?
#include "bench/single_changes.h"

#include <doctest/doctest.h>

#include <algorithm>
#include <numbers>

#include "case/key.h"
#include "case/tolerances.h"
#include "support/bench_boards.h"
#include "support/files.h"

using namespace bench_boards;

namespace {

constexpr double log_frequency_error = 0.002, damping_share = 0.02, least_damping_error = 0.0005;

RingErrors errors_of(double damping) {
    return {log_frequency_error, std::max(damping_share * std::abs(damping), least_damping_error)};
}

struct Drawn {
    std::string key;
    RecordTarget record;
    bool observable = false;
};

/// One number of the case, everywhere, 1.5 to 4 tolerances up or down, and a ring between two gate pins somewhere on the
/// path.
std::optional<Drawn> draw(const Case& input, const std::vector<Tolerance>& numbers,
                          const std::vector<std::string>& points, Dice& dice) {
    Drawn out;
    Tolerance number = numbers[dice.below(numbers.size())];
    out.key = number.key;
    UnknownCase moved(input, {number}), plain(input, {});
    if (moved.size() == 0) return {};
    const UnknownNumber& u = moved.unknowns().front();
    const double tolerances = (1.5 + 2.5 * dice.uniform()) * (dice.uniform() < 0.5 ? -1 : 1);
    const double half_width = u.deviation * std::numbers::sqrt3;
    constexpr double least_factor = 0.25;
    Eigen::VectorXd x(1);
    x[0] = u.logarithmic ? std::log(std::max(1 + tolerances * half_width, least_factor)) / u.deviation
                         : tolerances * std::numbers::sqrt3;
    const BenchRecord record = between(at(points[dice.below(points.size())]), "gate pin[1]", "gate pin[2]");
    const auto now = most_visible(plain, record, Eigen::VectorXd(0)), then = most_visible(moved, record, x);
    constexpr double rings = 0.3;
    if (!now || !then || std::abs(now->damping_ratio()) > rings) return {};
    const RingErrors errors = errors_of(then->damping_ratio());
    out.observable = std::abs(std::log(then->ringing_frequency_hz() / now->ringing_frequency_hz())) >
                         3 * errors.log_frequency ||
                     std::abs(then->damping_ratio() - now->damping_ratio()) > 3 * errors.damping;
    out.record = ring_record(record, *then, errors, errors, dice);
    return out;
}

bool names(const SingleChange& row, const std::string& key) {
    return std::any_of(row.best.keys.begin(), row.best.keys.end(),
                       [&](const std::string& k) { return without_position(k) == key; });
}

/// A number of each key of the typical tolerances, of the positions: what they share shows nothing between two gates.
std::vector<Tolerance> one_of_each(const Case& input) {
    std::vector<Tolerance> out;
    for (Tolerance t : typical_spread(input)) {
        if (std::any_of(out.begin(), out.end(), [&](const Tolerance& o) { return o.key == t.key; })) continue;
        bool one_position = false;
        if (!is_position_number(t.key, one_position)) continue;
        t.vary = Vary::batch;
        out.push_back(std::move(t));
    }
    return out;
}

}  // namespace

TEST_CASE("of rings that a known change has made four of five have it among the first three") {
#ifdef RINGQUELL_SANITIZED
    constexpr int boards = 2;
#else
    constexpr int boards = 100;
#endif
    int drawn = 0, observable = 0, found = 0, first = 0;
    Dice dice(3);
    const char* const cases[] = {"ropeway-first", "ropeway-cured", "ski-lift-curves", "ice-rink-cascode"};
    while (drawn < boards) {
        const Case input = test_files::demonstration(cases[drawn % 4]);
        std::vector<std::string> points;
        for (const OperatingPoint& p : operating_path(input).points)
            if (p.judged) points.push_back(p.name);
        const std::optional<Drawn> board = draw(input, one_of_each(input), points, dice);
        if (!board) continue;
        ++drawn;
        if (!board->observable) continue;
        ++observable;
        const SingleChanges changes = single_changes(input, typical_spread(input), {board->record});
        const auto at = std::find_if(changes.rows.begin(), changes.rows.end(),
                                     [&](const SingleChange& row) { return names(row, board->key); });
        found += at - changes.rows.begin() < 3 && at != changes.rows.end() ? 1 : 0;
        first += at == changes.rows.begin() ? 1 : 0;
    }
    MESSAGE("observable ", observable, ", among the first three ", found, ", first ", first);
    if (boards < 100) return;
    CHECK(observable >= 70);
    CHECK(found >= 0.8 * observable);
}
