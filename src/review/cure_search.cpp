#include "review/cure_search.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <set>

#include "ringquell/vary.h"

namespace ringquell::internal {

namespace {

constexpr double unlimited = std::numeric_limits<double>::infinity();

double cheapest(const Move& move) {
    return move.settings.front().price;
}

/// To three digits, away from where it comes from.
double rounded_onward(double value, double from) {
    const double step = std::pow(10.0, std::floor(std::log10(value)) - 2);
    constexpr double on_it = 1e-9;
    return value > from ? std::ceil(value / step - on_it) * step : std::floor(value / step + on_it) * step;
}

class CureSearch {
  public:
    CureSearch(const Case& input, const CheckResult& before, const std::vector<Move>& moves, bool short_list)
        : input_(input), moves_(moves), short_(short_list), trial_(input, before) {
        alike_ = trial_.weight() == 1;
        for (const Move& m : moves_) (m.gate_resistor ? resistors_ : others_).push_back(&m);
        nothing_ = trial_.missing({});
    }

    CureSearchResult run() {
        for (const Move& m : moves_) alone(m);
        gates_alone();
        for (const Move* m : others_) with_gates(*m);
        if (!short_) {
            pairs();
            triples();
        }
        std::stable_sort(out_.found.begin(), out_.found.end(),
                         [](const FoundCure& a, const FoundCure& b) { return a.price < b.price; });
        out_.networks = trial_.networks();
        return std::move(out_);
    }

  private:
    double best() const {
        double out = unlimited;
        for (const FoundCure& f : out_.found) out = std::min(out, f.price);
        return out;
    }
    /// Beyond the cheapest this may cost a change of another kind that is worth a row.
    double worth_a_row() const {
        constexpr double factor = 1.5, more = 4;
        return std::max(factor * best(), best() + more);
    }
    void keep(const Changes& changes) {
        FoundCure found;
        for (const Setting* s : changes) found.settings.push_back(*s);
        found.price = price_of(changes);
        out_.found.push_back(std::move(found));
    }

    // ---- one move ----

    void alone(const Move& move) {
        const std::size_t before = out_.found.size();
        if (move.at && alike_) {
            by_windows(move);
            if (out_.found.size() > before) return;
        }
        if (over_budget()) return;
        // A passage takes a walk of its own to judge, and a large network long: few values say whether any does.
        constexpr double large = 20;
        const bool few_first = short_ || trial_.fails_in_passing() || trial_.weight() > large;
        auto found = first_alone(move, few_first, unlimited);
        if (!found) return not_alone(move);
        if (few_first && !short_)
            if (const auto cheaper = first_alone(move, false, move.settings[*found].price)) found = cheaper;
        move.at ? nearer(move, *found) : keep({&move.settings[*found]});
    }
    /// The cheapest setting below `limit` that passes alone.
    std::optional<size_t> first_alone(const Move& move, bool coarse, double limit) {
        for (size_t k = 0; k < move.settings.size(); ++k) {
            const Setting& s = move.settings[k];
            if (s.price >= limit) break;
            if ((!coarse || s.coarse) && trial_.passes({&s}) && trial_.confirmed({&s})) return k;
        }
        return std::nullopt;
    }

    /// Of a number of the layout: the ends of its windows, nearest first.
    void by_windows(const Move& move) {
        const auto [low, high] = std::minmax_element(move.values.begin(), move.values.end());
        VaryOptions range;
        range.from = std::min(*low, move.now);
        range.to = std::max(*high, move.now);
        range.common_too = true;
        std::vector<double> values;
        try {
            for (const Window& w : acceptable_values(input_, {move.key}, range).acceptable.windows)
                for (const double end : {w.low, w.high}) {
                    if (end <= 0) continue;
                    const double onward = end == w.low ? w.high : w.low;
                    const double value = rounded_onward(end, end == w.low ? -onward : onward + end);
                    if (value >= w.low && value <= w.high && value >= *low && value <= *high)
                        values.push_back(value);
                }
        } catch (const InputError&) {
            return;
        } catch (const NumericalError&) {
            return;
        }
        std::vector<Setting> settings;
        settings.reserve(values.size());
        for (const double v : values) settings.push_back(move.at(v));
        std::stable_sort(settings.begin(), settings.end(),
                         [](const Setting& a, const Setting& b) { return a.price < b.price; });
        for (const Setting& s : settings)
            if (trial_.passes({&s}) && trial_.confirmed({&s})) return keep({&s});
    }
    /// Between a setting that passes and the one before it on the same side, which does not.
    void nearer(const Move& move, size_t k) {
        double good = move.values[k], bad = move.now;
        for (const double v : move.values)
            if (std::abs(v - good) < std::abs(bad - good) &&
                std::abs(v - move.now) < std::abs(good - move.now) && (v > move.now) == (good > move.now))
                bad = v;
        Setting kept = move.settings[k];
        constexpr double precision = 2e-3;
        while (std::abs(good - bad) > precision * good) {
            const double value = rounded_onward((good + bad) / 2, bad);
            if (value == good) break;
            Setting s = move.at(value);
            if (trial_.passes({&s}) && trial_.confirmed({&s})) {
                good = value;
                kept = std::move(s);
            } else {
                bad = value;
            }
        }
        keep({&kept});
    }

    void not_alone(const Move& move) {
        const Setting* nearest = nullptr;
        CureTrial::Missing least{unlimited, -unlimited};
        bool helps = nothing_.sum == 0;
        for (const Setting& s : move.settings) {
            constexpr size_t few = 24;
            if (move.settings.size() > few && !s.coarse) continue;
            const CureTrial::Missing m = trial_.missing({&s});
            constexpr double noise = 1e-6;
            helps = helps || m.sum < nothing_.sum - noise;
            if (nearest == nullptr || m.least > least.least) {
                nearest = &s;
                least = m;
            }
        }
        if (helps) helpful_.insert(&move);
        if (nearest != nullptr) out_.alone_not.push_back({&move, *nearest, least.least});
    }

    // ---- gate resistors ----

    /// The cheapest resistors below `limit` with which the edges pass that do not yet; nothing, where they all
    /// do; empty, where none does. `coarse`: few values are looked at.
    std::optional<Changes> gates(const Changes& with, bool coarse, double limit) {
        std::vector<Edge> failing;
        for (const Edge edge : trial_.edges())
            if (!trial_.passes(with, edge)) failing.push_back(edge);
        if (failing.empty()) return Changes{};
        std::optional<Changes> best;
        for (const bool one_value : {false, true}) {
            const auto found =
                one_value ? both_edges(with, coarse, limit) : each_edge(with, failing, coarse, limit);
            if (found && (!best || price_of(*found) < price_of(*best))) best = found;
        }
        return best;
    }
    std::optional<Changes> each_edge(const Changes& with, const std::vector<Edge>& failing, bool coarse,
                                     double limit) {
        Changes out;
        for (const Edge edge : failing) {
            const Setting* found = nullptr;
            for (const Move* move : resistors_)
                if (move->edge == edge)
                    found = first_passing(*move, with, edge, coarse, limit - price_of(out));
            if (found == nullptr) return std::nullopt;
            out.push_back(found);
        }
        return out;
    }
    std::optional<Changes> both_edges(const Changes& with, bool coarse, double limit) {
        for (const Move* move : resistors_) {
            if (move->edge) continue;
            const Setting* found = first_passing(*move, with, std::nullopt, coarse, limit);
            if (found != nullptr) return Changes{found};
        }
        return std::nullopt;
    }
    const Setting* first_passing(const Move& move, const Changes& with, std::optional<Edge> edge, bool coarse,
                                 double limit) {
        Changes tried = with;
        tried.push_back(nullptr);
        for (const Setting& s : move.settings) {
            if (s.price >= limit) break;
            if (coarse && !s.coarse) continue;
            tried.back() = &s;
            if (trial_.passes(tried, edge)) return &s;
        }
        return nullptr;
    }

    void gates_alone() {
        const auto found = gates({}, false, unlimited);
        if (found && found->size() > 1 && trial_.confirmed(*found)) keep(*found);
    }

    /// The cheapest setting of a move with the resistors that it leaves needed.
    void with_gates(const Move& move) {
        if (over_budget() || !helpful_.contains(&move)) return;
        double limit = worth_a_row();
        std::optional<Changes> best;
        for (const bool coarse : {true, false}) {
            if (!coarse && (!best || short_)) break;
            for (const Setting& s : move.settings) {
                if (s.price + 1e-9 >= limit || over_budget()) break;
                if ((coarse || short_) && !s.coarse) continue;
                const auto found = gates({&s}, coarse, limit - s.price);
                if (!found || found->empty()) continue;
                Changes changes{&s};
                changes.insert(changes.end(), found->begin(), found->end());
                if (!trial_.confirmed(changes)) continue;
                best = changes;
                limit = price_of(changes);
            }
        }
        if (best) keep(*best);
    }

    // ---- pairs and triples ----

    std::vector<const Move*> by_price(const std::set<const Move*>& of) const {
        std::vector<const Move*> out;
        for (const Move& m : moves_)
            if (of.contains(&m)) out.push_back(&m);
        std::stable_sort(out.begin(), out.end(),
                         [](const Move* a, const Move* b) { return cheapest(*a) < cheapest(*b); });
        return out;
    }

    /// The cheapest settings of these moves together, below `limit`: first of the few values, then of all.
    std::optional<Changes> together(const std::vector<const Move*>& moves, double limit) {
        std::optional<Changes> best;
        for (const bool coarse : {true, false}) {
            if (!coarse && !best && moves.size() > 2) break;
            if (auto found = nested(moves, coarse, best ? price_of(*best) : limit)) best = found;
        }
        return best;
    }
    std::optional<Changes> nested(const std::vector<const Move*>& moves, bool coarse, double limit) {
        std::optional<Changes> best;
        Changes changes;
        const std::function<void(size_t)> level = [&](size_t k) {
            double rest = 0;
            for (size_t i = k + 1; i < moves.size(); ++i) rest += cheapest(*moves[i]);
            for (const Setting& s : moves[k]->settings) {
                const double below = best ? price_of(*best) : limit;
                if (price_of(changes) + s.price + rest + 1e-9 >= below || over_budget()) break;
                if (coarse && !s.coarse) continue;
                changes.push_back(&s);
                if (k + 1 < moves.size())
                    level(k + 1);
                else if (trial_.passes(changes) && trial_.confirmed(changes))
                    best = changes;
                changes.pop_back();
            }
        };
        level(0);
        return best;
    }

    void pairs() {
        const std::vector<const Move*> moves = by_price(helpful_);
        struct Candidates {
            const Move *a, *b;
            double least;
        };
        std::vector<Candidates> order;
        for (size_t i = 0; i < moves.size(); ++i)
            for (size_t j = i + 1; j < moves.size(); ++j)
                if (!same_number(*moves[i], *moves[j]))
                    order.push_back({moves[i], moves[j], cheapest(*moves[i]) + cheapest(*moves[j])});
        std::stable_sort(order.begin(), order.end(),
                         [](const Candidates& x, const Candidates& y) { return x.least < y.least; });
        for (const Candidates& c : order) {
            if (c.least >= best() || over_budget()) break;
            if (const auto found = together({c.a, c.b}, best())) keep(*found);
        }
    }
    void triples() {
        if (!out_.found.empty()) return;
        const std::vector<const Move*> moves = by_price(helpful_);
        for (size_t i = 0; i < moves.size(); ++i)
            for (size_t j = i + 1; j < moves.size(); ++j)
                for (size_t k = j + 1; k < moves.size(); ++k) {
                    if (over_budget()) return;
                    if (same_number(*moves[i], *moves[j]) || same_number(*moves[i], *moves[k]) ||
                        same_number(*moves[j], *moves[k]) ||
                        cheapest(*moves[i]) + cheapest(*moves[j]) + cheapest(*moves[k]) >= best())
                        continue;
                    if (const auto found = together({moves[i], moves[j], moves[k]}, best())) keep(*found);
                }
    }
    /// A number and the same at one position, or at both edges.
    static bool same_number(const Move& a, const Move& b) {
        const auto plain = [](const Move& m) {
            std::string key = m.key;
            if (const size_t open = key.find('['); open != std::string::npos)
                key.erase(open, key.find(']') + 1 - open);
            return key;
        };
        const std::string of_a = plain(a), of_b = plain(b);
        if (a.key != of_a && b.key != of_b) return a.key == b.key;
        return of_a == of_b || of_a.starts_with(of_b + ".") || of_b.starts_with(of_a + ".");
    }

    bool over_budget() {
        constexpr double most_networks = 400000;  // of two small blocks: some half a minute
        if (static_cast<double>(trial_.networks()) * trial_.weight() < most_networks) return false;
        out_.ended_early = true;
        return true;
    }

    const Case& input_;
    const std::vector<Move>& moves_;
    bool short_;
    CureTrial trial_;
    bool alike_ = false;
    CureTrial::Missing nothing_;
    std::vector<const Move*> resistors_, others_;
    std::set<const Move*> helpful_;
    CureSearchResult out_;
};

}  // namespace

CureSearchResult search_cures(const Case& input, const CheckResult& before, const std::vector<Move>& moves,
                              bool short_list) {
    return CureSearch(input, before, moves, short_list).run();
}

}  // namespace ringquell::internal
