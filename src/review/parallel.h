// A loop on all processors.
#pragma once

#include <tbb/blocked_range.h>
#include <tbb/enumerable_thread_specific.h>
#include <tbb/parallel_for.h>

#include <exception>
#include <vector>

namespace ringquell::internal {

/// Calls work(worker, k) for every k below `count`, each thread with a worker of its own, a pointer that
/// make() gave. One by one: their times differ, and a wide share would leave one processor idle at the end.
/// Throws what the first that failed, by its number, has thrown, once all are done.
template <class Make, class Work>
void on_all_processors(size_t count, const Make& make, const Work& work) {
    tbb::enumerable_thread_specific<decltype(make())> workers(make);
    std::vector<std::exception_ptr> failures(count);
    tbb::parallel_for(
        tbb::blocked_range<size_t>(0, count, 1),
        [&](const tbb::blocked_range<size_t>& one) {
            const size_t k = one.begin();
            try {
                work(*workers.local(), k);
            } catch (...) {
                failures[k] = std::current_exception();
            }
        },
        tbb::simple_partitioner());
    for (const std::exception_ptr& failure : failures)
        if (failure) std::rethrow_exception(failure);
}

}  // namespace ringquell::internal
