#include "bench/single_changes.h"

#include <algorithm>
#include <boost/math/tools/minima.hpp>
#include <cmath>
#include <map>
#include <numbers>
#include <set>

#include "case/key.h"
#include "case/tolerances.h"
#include "ringquell/error.h"
#include "ringquell/numbers.h"

namespace ringquell::internal {

namespace {

/// A number moves by this factor at most, either way.
constexpr double farthest = 6;
/// Of the numbers whose slopes promise most, so many are looked at closely, everywhere and at one position each.
constexpr size_t looked_at = 24;

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

/// The key without a position's index.
std::string everywhere(const std::string& key) {
    const size_t open = key.find('['), close = key.find("].");
    if (open == std::string::npos || close == std::string::npos || open > close) return key;
    const std::string base = key.substr(0, open);
    return is_position_key(base) ? base + key.substr(close + 1) : key;
}

class Searcher {
  public:
    Searcher(const Case& input, const std::vector<Tolerance>& unknown, const std::vector<RecordTarget>& records)
        : given_(keys_of(unknown)), board_(with(input, suspects(input, unknown))) {
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
        for (const Tolerance& t : unknown) out.insert(everywhere(t.key));
        return out;
    }
    static Case with(Case input, std::vector<Tolerance> tolerances) {
        input.spread = std::move(tolerances);
        return input;
    }
    /// What an unknown moves, in the network of the first record: strings and positions, for inductances and
    /// resistances; else its own key.
    std::string what_moves(const Network& network, const UnknownNumber& unknown) const;
    std::vector<Suspect> gather();
    void promise(std::vector<Suspect>& suspects);
    /// All records with unknown k at u, all others nominal.
    std::optional<MovedAlone> moved(const Suspect& suspect, double u);
    MovedAlone best_of(const Suspect& suspect);
    std::set<std::string> given_;
    UnknownCase board_;
    std::vector<RecordModel> models_;
};

std::string Searcher::what_moves(const Network& network, const UnknownNumber& unknown) const {
    std::string name = everywhere(unknown.label);
    for (const char* edge : {".turn_on", ".turn_off"})
        if (name.ends_with(edge)) name.resize(name.size() - std::string(edge).size());
    std::string out;
    bool one_position = false;
    const bool of_position = is_position_number(unknown.label, one_position);
    const int only = of_position && one_position ? split_key(unknown.label, {}).front().index.value_or(0) : 0;
    for (const Element& e : network.elements) {
        if (e.name != name || (only != 0 && e.position != only)) continue;
        if (e.kind != ElementKind::inductance && (e.kind != ElementKind::resistance || e.reciprocal))
            return unknown.label;
        out += (e.kind == ElementKind::inductance ? "L" : "R") + std::to_string(e.position);
        for (const auto& [i, sign] : e.left) out += '/' + std::to_string(i);
    }
    return out.empty() ? unknown.label : out;
}

/// Of what does the same, the number that may move most stands for all.
std::vector<Searcher::Suspect> Searcher::gather() {
    const Eigen::VectorXd start = Eigen::VectorXd::Zero(board_.size());
    // Without probe and port: what hangs between two parts of one string does not make them two.
    const Network network = BoardAt(board_, models_.front().target().record).network(start);
    std::map<std::string, size_t> row_of;
    std::vector<Suspect> out;
    const auto width = [&](Eigen::Index k) {
        const UnknownNumber& u = board_.unknowns()[static_cast<size_t>(k)];
        return u.deviation * (u.logarithmic ? u.nominal : 1);
    };
    for (Eigen::Index k = 0; k < board_.size(); ++k) {
        const UnknownNumber& unknown = board_.unknowns()[static_cast<size_t>(k)];
        const auto [row, fresh] = row_of.emplace(what_moves(network, unknown), out.size());
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
        double rr = 0, jr = 0, jj = 1;  // the prior's own
        for (const RecordState& state : states) {
            const auto slope = state.slopes.col(s.unknown);
            rr += state.residuals.squaredNorm();
            jr += slope.dot(state.residuals);
            jj += slope.squaredNorm();
        }
        s.guess = -jr / jj;
        s.promise = rr - jr * jr / jj;
    }
}

std::optional<MovedAlone> Searcher::moved(const Suspect& suspect, double u) {
    const UnknownNumber& unknown = board_.unknowns()[static_cast<size_t>(suspect.unknown)];
    Eigen::VectorXd x = Eigen::VectorXd::Zero(board_.size());
    x[suspect.unknown] = u;
    MovedAlone out;
    out.keys = suspect.keys;
    out.everywhere = everywhere(unknown.label) == unknown.label;
    out.dimension = unknown.dimension;
    out.curve = unknown.curve;
    out.from = unknown.nominal;
    out.to = unknown.value(u);
    const double half_width = unknown.deviation * std::numbers::sqrt3;
    out.tolerances = (unknown.logarithmic ? out.to / out.from - 1 : out.to - out.from) / half_width;
    out.tolerance_given = given_.contains(everywhere(unknown.label));
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
    out.score = out.misfit + u * u;
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
        boost::math::tools::brent_find_minima(score, std::min(0.0, reach), std::max(0.0, reach), bits, most).first;
    MovedAlone now = *moved(suspect, 0);
    std::optional<MovedAlone> out = moved(suspect, u);
    return out && out->score < now.score ? std::move(*out) : std::move(now);
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
        if (looked[everywhere(label) == label ? 1 : 0]++ < looked_at) found.push_back(best_of(s));
    }
    std::stable_sort(found.begin(), found.end(),
                     [](const MovedAlone& a, const MovedAlone& b) { return a.score < b.score; });
    std::map<std::string, size_t> row_of;
    for (MovedAlone& m : found) {
        const auto [row, fresh] = row_of.emplace(everywhere(m.keys.front()), out.rows.size());
        if (fresh)
            out.rows.push_back({std::move(m), {}});
        else if (m.score < out.rows[row->second].best.score + MovedAlone::tells_apart)
            out.rows[row->second].others.push_back(std::move(m));
    }
    return out;
}

}  // namespace

std::vector<Tolerance> suspects(const Case& input, const std::vector<Tolerance>& unknown) {
    std::map<std::string, Tolerance> widest;  // by the key without position
    std::vector<std::string> order;
    const auto add = [&](Tolerance t) {
        t.key = everywhere(t.key);
        t.distribution = Distribution::uniform;
        t.correlations.clear();
        t.vary = Vary::batch;
        const auto [at, fresh] = widest.emplace(t.key, t);
        if (fresh) order.push_back(t.key);
        else if (t.amount > at->second.amount) at->second = t;
    };
    for (const Tolerance& t : unknown) add(t);
    const std::set<std::string> given(order.begin(), order.end());
    for (const Tolerance& t : typical_spread(input))
        if (!given.contains(t.key)) add(t);
    for (const std::string& key : number_keys(input)) {
        if (widest.contains(key) || is_no_part(key)) continue;
        const ConstNumber number = find_number(input, key);
        if (std::all_of(number.values.begin(), number.values.end(), [](const double* v) { return *v == 0; }))
            continue;
        constexpr double part = 0.10, other = 0.15;
        Tolerance t;
        t.key = key;
        t.amount = is_bought_part(key) ? part : other;
        t.relative = true;
        add(std::move(t));
    }
    std::vector<Tolerance> out;
    for (const std::string& key : order) {
        out.push_back(widest.at(key));
        bool one_position = false;
        if (input.n() == 1 || !is_position_number(key, one_position)) continue;
        for (int k = 1; k <= input.n(); ++k) {
            Tolerance alone = widest.at(key);
            alone.key = at_position(key, k);
            try {
                varying_number(input, alone.key, 0);
            } catch (const InputError&) {
                continue;
            }
            out.push_back(std::move(alone));
        }
    }
    return out;
}

SingleChanges single_changes(const Case& input, const std::vector<Tolerance>& unknown,
                             const std::vector<RecordTarget>& records) {
    return Searcher(input, unknown, records).run();
}

}  // namespace ringquell::internal
