#include "ringquell/check_many.h"

#include <algorithm>
#include <atomic>
#include <exception>
#include <new>
#include <thread>

#include "modes/ranking.h"
#include "ringquell/cure.h"
#include "ringquell/error.h"
#include "ringquell/read_case.h"

namespace ringquell {

using namespace internal;

namespace {

void summarize(CheckedCase& out, const CheckResult& result) {
    out.verdict = result.verdict;
    out.title = result.title;
    out.positions = result.positions;
    if (const FoundMode* worst = mode_in_question(result)) {
        out.worst = *worst;
        out.worst_point = result.points[worst->point].point.name;
        out.target = damping_target(worst->mode, result.require);
    }
    for (const auto& [edge, s] : result.gate_resistance)
        out.resistors[edge] = {s.minimum_ohm, s.preferred_ohm, s.fitted_lowest_ohm};
    out.passes_in_passing = all_pass(result.passages.passages);
}

}  // namespace

std::vector<CheckedCase> check_many(
    const std::vector<CaseVariant>& variants, const CheckOptions& options, int threads,
    const std::function<std::string(const CaseVariant&, const CheckResult&)>& document) {
    std::vector<CheckedCase> out(variants.size());
    const auto judge = [&](size_t k) {
        CheckedCase& row = out[k];
        row.variant = variants[k];
        try {
            const Case input = read_case(row.variant.file, row.variant.settings, &row.files_read);
            CheckResult result = check(input, options);
            summarize(row, result);
            if (document) add_first_cure(input, result);
            if (document) row.document = document(row.variant, result);
        } catch (const InputError& error) {
            row.error = error.what();
            row.wrong_input = true;
        } catch (const NumericalError& error) {
            row.error = error.what();
        } catch (const std::bad_alloc&) {
            row.error = "not enough memory for this case";
        } catch (const std::exception& error) {
            row.error = error.what();
        }
    };
    std::atomic<size_t> next{0};
    const auto work = [&] {
        for (size_t k; (k = next.fetch_add(1)) < out.size();) judge(k);
    };
    std::vector<std::jthread> team;
    for (int t = 1; t < std::min<int>(threads, static_cast<int>(out.size())); ++t) team.emplace_back(work);
    work();
    team.clear();
    return out;
}

}  // namespace ringquell
