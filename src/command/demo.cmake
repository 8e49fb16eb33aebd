# Runs `check` on the demonstration case, which fails by design: exit status 1 is its verdict, no error of the build.
# cmake -D COMMAND=… -D CASE=… -P demo.cmake
execute_process(COMMAND ${CMAKE_COMMAND} -E echo "$ ringquell check ${CASE}")
execute_process(COMMAND "${COMMAND}" check "${CASE}" RESULT_VARIABLE status)
if(NOT status MATCHES "^[01]$")
    message(FATAL_ERROR "ringquell ended with status ${status}")
endif()
