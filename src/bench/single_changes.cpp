#include "bench/single_changes.h"

#include <algorithm>
#include <boost/math/tools/minima.hpp>
#include <cmath>
#include <map>
#include <numbers>
#include <numeric>
#include <set>

#include "case/key.h"
#include "case/tolerances.h"
#include "ringquell/error.h"
#include "ringquell/numbers.h"

namespace ringquell::internal {

namespace {

/// What is wrong with a number, as a standard deviation, in those of its tolerance: a fault is no matter of tolerances.
constexpr double fault = 3;
/// A number that takes less than this from the sum of squares explains nothing.
constexpr double worth_a_move = 1;
/// A number moves by this factor at most, either way.
constexpr double farthest = 6;
/// Of the numbers whose slopes promise most, so many are looked at closely, everywhere and at one position each.
constexpr size_t looked_at = 16;

bool is_bought_part(const std::string& key) {
    return key.find(".resistor") != std::string::npos || key.find("capacitance") != std::string::npos ||
           key.starts_with("snubber") || key.find("bypass") != std::string::npos;
}

/// Is it what is asked, how the board is driven, or part of what another suspect moves as a whole?
bool is_no_part(const std::string& key) {
    return key.starts_with("require.") || key.starts_with("operation.") || key.ends_with(".resistor") ||
           key.find(".bead.") != std::string::npos || key.find("junction_temperature") != std::string::npos ||
           key.starts_with("couplings[") || key.starts_with("power_loop.load");
}

/// For each unknown of a network the first that is the same current: strings that meet where nothing else is joined.
std::vector<int> same_currents(const Network& network) {
    std::vector<int> first(network.unknowns.size());
    std::iota(first.begin(), first.end(), 0);
    std::map<int, std::vector<int>> row;  // the currents that sum to zero at a node
    for (const auto& entry : network.constant) row[entry.row()].push_back(entry.col());
    for (const Element& e : network.elements)
        for (const auto& [i, sign] : e.left)
            row.erase(network.unknowns[static_cast<size_t>(i)].is_current ? -1 : i);
    const auto root = [&](int i) {
        while (first[static_cast<size_t>(i)] != i) i = first[static_cast<size_t>(i)];
        return i;
    };
    for (const auto& [node, currents] : row) {
        if (currents.size() != 2 || network.unknowns[static_cast<size_t>(node)].is_current) continue;
        const int a = root(currents[0]), b = root(currents[1]);
        first[static_cast<size_t>(std::max(a, b))] = std::min(a, b);
    }
    for (size_t i = 0; i < first.size(); ++i) first[i] = root(static_cast<int>(i));
    return first;
}

class Searcher {
  public:
    Searcher(const Case& input, const std::vector<Tolerance>& unknown,
             const std::vector<RecordTarget>& records)
        : given_(keys_of(unknown)), board_(input, suspects(input, unknown)) {
        for (const RecordTarget& r : records) models_.emplace_back(board_, r);
    }
    SingleChanges run();

  private:
    struct Suspect {
        Eigen::Index unknown;
        std::vector<std::string> keys;
        double promise = 0;  // the least score that the slopes at the start allow
        double guess = 0;    // where
    };
    static std::set<std::string> keys_of(const std::vector<Tolerance>& unknown) {
        std::set<std::string> out;
        for (const Tolerance& t : unknown) out.insert(without_position(t.key));
        return out;
    }
    /// What an unknown moves, in the network of the first record: strings and positions, for inductances and
    /// resistances; else its own key.
    std::string what_moves(const Network& network, const std::vector<int>& current,
                           const UnknownNumber& unknown) const;
    std::vector<Suspect> gather();
    void promise(std::vector<Suspect>& suspects);
    /// All records with unknown k at u, all others nominal.
    std::optional<MovedAlone> moved(const Suspect& suspect, double u);
    MovedAlone best_of(const Suspect& suspect);
    std::set<std::string> given_;
    Edge edge_ = Edge::turn_on;  // of the first record
    UnknownCase board_;
    std::vector<RecordModel> models_;
};

std::string Searcher::what_moves(const Network& network, const std::vector<int>& current,
                                 const UnknownNumber& unknown) const {
    std::string name = without_position(unknown.label);
    const std::string own_edge = std::string(".") + edge_name(edge_);
    if (name.ends_with(own_edge)) name.resize(name.size() - own_edge.size());
    std::string out;
    bool one_position = false;
    const bool of_position = is_position_number(unknown.label, one_position);
    const int only = of_position && one_position ? split_key(unknown.label, {}).front().index.value_or(0) : 0;
    for (const Element& e : network.elements) {
        if (e.name != name || (only != 0 && e.position != only)) continue;
        if (e.kind != ElementKind::inductance && (e.kind != ElementKind::resistance || e.reciprocal))
            return unknown.label;
        out += (e.kind == ElementKind::inductance ? "L" : "R") + std::to_string(e.position);
        for (const auto& [i, sign] : e.left) out += '/' + std::to_string(current[static_cast<size_t>(i)]);
    }
    return out.empty() ? unknown.label : out;
}

/// Of what does the same, the number that may move most stands for all.
std::vector<Searcher::Suspect> Searcher::gather() {
    const Eigen::VectorXd start = Eigen::VectorXd::Zero(board_.size());
    // Without probe and port: what hangs between two parts of one string does not make them two.
    BoardAt first(board_, models_.front().target().record);
    edge_ = first.point(start).edge;
    const Network network = first.network(start);
    const std::vector<int> current = same_currents(network);
    std::map<std::string, size_t> row_of;
    std::vector<Suspect> out;
    const auto width = [&](Eigen::Index k) {
        const UnknownNumber& u = board_.unknowns()[static_cast<size_t>(k)];
        return u.deviation * (u.logarithmic ? u.nominal : 1);
    };
    for (Eigen::Index k = 0; k < board_.size(); ++k) {
        const UnknownNumber& unknown = board_.unknowns()[static_cast<size_t>(k)];
        const auto [row, fresh] = row_of.emplace(what_moves(network, current, unknown), out.size());
        if (fresh) {
            out.push_back({k, {unknown.label}, 0, 0});
            continue;
        }
        Suspect& same = out[row->second];
        if (width(k) > width(same.unknown)) {
            same.unknown = k;
            same.keys.insert(same.keys.begin(), unknown.label);
        } else {
            same.keys.push_back(unknown.label);
        }
    }
    return out;
}

void Searcher::promise(std::vector<Suspect>& suspects) {
    const Eigen::VectorXd start = Eigen::VectorXd::Zero(board_.size());
    std::vector<RecordState> states;
    for (RecordModel& model : models_) states.push_back(model.at(start, true));
    for (Suspect& s : suspects) {
        double rr = 0, jr = 0, jj = 1 / (fault * fault);  // the prior's own
        for (const RecordState& state : states) {
            const auto slope = state.slopes.col(s.unknown);
            rr += state.residuals.squaredNorm();
            jr += slope.dot(state.residuals);
            jj += slope.squaredNorm();
        }
        s.guess = -jr / jj;
        s.promise = rr - jr * jr / jj + 2 * std::log(fault) + std::log(jj);
    }
}

std::optional<MovedAlone> Searcher::moved(const Suspect& suspect, double u) {
    const UnknownNumber& unknown = board_.unknowns()[static_cast<size_t>(suspect.unknown)];
    Eigen::VectorXd x = Eigen::VectorXd::Zero(board_.size());
    x[suspect.unknown] = u;
    MovedAlone out;
    out.keys = suspect.keys;
    out.everywhere = without_position(unknown.label) == unknown.label;
    out.dimension = unknown.dimension;
    out.curve = unknown.curve;
    out.from = unknown.nominal;
    out.to = unknown.value(u);
    const double half_width = unknown.deviation * std::numbers::sqrt3;
    out.tolerances = (unknown.logarithmic ? out.to / out.from - 1 : out.to - out.from) / half_width;
    out.tolerance_given = given_.contains(without_position(unknown.label));
    try {
        for (RecordModel& model : models_) {
            RecordState state = model.at(x, false);
            out.misfit += state.misfits.empty() ? state.residuals.squaredNorm() : state.misfits.front();
            out.residuals.push_back(std::move(state.residuals));
            out.modes.push_back(state.modes.empty() ? SeenMode{} : std::move(state.modes.front()));
        }
    } catch (const InputError&) {
        return {};
    } catch (const NumericalError&) {
        return {};
    }
    out.score = out.misfit + u * u / (fault * fault);
    return out;
}

MovedAlone Searcher::best_of(const Suspect& suspect) {
    const UnknownNumber& unknown = board_.unknowns()[static_cast<size_t>(suspect.unknown)];
    constexpr double farthest_linear = 8;  // standard deviations
    const double limit = unknown.logarithmic ? std::log(farthest) / unknown.deviation : farthest_linear;
    constexpr double impossible = 1e30, beyond = 2.5;
    const auto score = [&](double u) {
        const auto at = moved(suspect, u);
        return at ? at->score : impossible;
    };
    const double reach = std::clamp(beyond * suspect.guess, -limit, limit);
    constexpr int bits = 12;
    std::uintmax_t most = 24;
    const double u =
        boost::math::tools::brent_find_minima(score, std::min(0.0, reach), std::max(0.0, reach), bits, most)
            .first;
    std::optional<MovedAlone> out = moved(suspect, u);
    double at = u;
    MovedAlone now = *moved(suspect, 0);
    if (!out || now.score <= out->score) {
        out = std::move(now);
        at = 0;
    }
    // A fault is as likely everywhere as at one of the positions. Laplace: of the moves that a fault may have made, the
    // share that explains the records is 1/√(1 + fault²·|slope|²).
    constexpr double step = 0.05;
    const std::optional<MovedAlone> above = moved(suspect, at + step), below = moved(suspect, at - step);
    double slope = 0;
    if (above && below)
        for (size_t r = 0; r < models_.size(); ++r)
            slope += (above->residuals[r] - below->residuals[r]).squaredNorm() / (4 * step * step);
    out->score +=
        std::log(1 + fault * fault * slope) + (out->everywhere ? 0 : 2 * std::log(board_.input().n()));
    return std::move(*out);
}

SingleChanges Searcher::run() {
    std::vector<Suspect> suspects = gather();
    promise(suspects);
    std::stable_sort(suspects.begin(), suspects.end(),
                     [](const Suspect& a, const Suspect& b) { return a.promise < b.promise; });
    SingleChanges out;
    out.misfit_now = moved(suspects.front(), 0)->misfit;
    size_t looked[2] = {0, 0};
    std::vector<MovedAlone> found;
    for (const Suspect& s : suspects) {
        const std::string& label = board_.unknowns()[static_cast<size_t>(s.unknown)].label;
        if (looked[without_position(label) == label ? 1 : 0]++ < looked_at) found.push_back(best_of(s));
    }
    std::stable_sort(found.begin(), found.end(),
                     [](const MovedAlone& a, const MovedAlone& b) { return a.score < b.score; });
    std::map<std::string, size_t> row_of;
    for (MovedAlone& m : found) {
        if (m.misfit > out.misfit_now - worth_a_move) continue;
        const auto [row, fresh] = row_of.emplace(without_position(m.keys.front()), out.rows.size());
        if (fresh)
            out.rows.push_back({std::move(m), {}});
        else if (m.score < out.rows[row->second].best.score + SingleChangeRow::tells_apart)
            out.rows[row->second].others.push_back(std::move(m));
    }
    return out;
}

}  // namespace

namespace {

/// The tolerances of one key, everywhere and at one position.
struct Widths {
    std::optional<Tolerance> batch, position;
    const Tolerance& everywhere() const {
        return !batch || (position && position->amount > batch->amount) ? *position : *batch;
    }
    const Tolerance& alone() const { return position ? *position : *batch; }
};

class Suspects {
  public:
    explicit Suspects(const Case& input) : input_(input) {}
    bool known(const std::string& key) const { return widths_.contains(key); }
    void add(Tolerance t) {
        const bool one_position = without_position(t.key) != t.key;
        t.key = without_position(t.key);
        t.distribution = Distribution::uniform;
        t.correlations.clear();
        if (!known(t.key)) order_.push_back(t.key);
        Widths& widths = widths_[t.key];
        auto& width = t.vary == Vary::position || one_position ? widths.position : widths.batch;
        t.vary = Vary::batch;
        if (!width || t.amount > width->amount) width = std::move(t);
    }
    std::vector<Tolerance> list() const {
        std::vector<Tolerance> out;
        for (const std::string& key : order_) {
            out.push_back(widths_.at(key).everywhere());
            bool one_position = false;
            if (input_.n() == 1 || !is_position_number(key, one_position)) continue;
            for (int k = 1; k <= input_.n(); ++k) {
                Tolerance alone = widths_.at(key).alone();
                alone.key = at_position(key, k);
                if (has(alone.key)) out.push_back(std::move(alone));
            }
        }
        return out;
    }

  private:
    bool has(const std::string& key) const {
        try {
            varying_number(input_, key, 0);
            return true;
        } catch (const InputError&) {  // what an override adds at one position others have not
            return false;
        }
    }
    const Case& input_;
    std::map<std::string, Widths> widths_;
    std::vector<std::string> order_;
};

}  // namespace

std::vector<Tolerance> suspects(const Case& input, const std::vector<Tolerance>& unknown) {
    Suspects out(input);
    for (const Tolerance& t : unknown) out.add(t);
    std::vector<Tolerance> others = typical_spread(input);
    std::erase_if(others, [&](const Tolerance& t) { return out.known(t.key); });
    for (Tolerance& t : others) out.add(std::move(t));
    for (const std::string& key : number_keys(input)) {
        if (out.known(key) || is_no_part(key)) continue;
        const ConstNumber number = find_number(input, key);
        if (std::all_of(number.values.begin(), number.values.end(), [](const double* v) { return *v == 0; }))
            continue;
        constexpr double part = 0.10, other = 0.15;
        Tolerance t;
        t.key = key;
        t.amount = is_bought_part(key) ? part : other;
        t.relative = true;
        t.vary = Vary::batch;
        out.add(std::move(t));
    }
    return out.list();
}

SingleChanges single_changes(const Case& input, const std::vector<Tolerance>& unknown,
                             const std::vector<RecordTarget>& records) {
    return Searcher(input, unknown, records).run();
}

}  // namespace ringquell::internal
